"""What to measure next, of everything the family's stations declare, in the engineer's words."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from firstoff.launch.explaining.suspects import Prepared
from firstoff.launch.plan import LaunchPlan, with_checks
from firstoff.report.tables import number, wrap
from firstoff.sheets.units import from_si, size_from_si
from firstoff.trials.answers import Range
from firstoff.trials.belief import belief, doubt
from firstoff.trials.explain import Explanation
from firstoff.trials.next_reading import NextReading, in_units, rank
from firstoff.trials.scene import Scene

SHOWN = 3  # measurements proposed in the text
MORE = 0.1  # nat, by which a longer measurement of the same must tell more to be shown as well
NAMED = 4  # causes spoken of in one
DANGER = ("no danger", "usual care", "dangerous when done wrong", "never proposed")


def next_readings(plan: LaunchPlan, prepared: Prepared, wide: Scene, found: Explanation) -> tuple[NextReading, ...]:
    """Every declared measurement that is possible and not yet taken, ranked; values in SI."""
    thought = belief(wide, prepared.wide_suspects, found)
    ranked = rank(wide, thought, plan.job.family.measurements, doubt(wide, prepared.wide_suspects, thought))
    return in_units(ranked, prepared.units)


def as_dict(r: NextReading) -> dict[str, Any]:
    """One measurement as plain values, SI."""
    m = r.measurement
    return {
        **asdict(m),
        "measured_on": list(r.parts) or {"lot": "further parts of the lot", "rig": "the rig"}.get(m.on, m.on),
        "information_nat": r.information,
        "share_of_open": r.share,
        "nat_per_minute": r.per_minute,
        "proposed": r.proposed,
        "answers_of": r.told_of or "the mean of all that are measured",
        "confirms": r.confirms,
        "answers": [asdict(a) for a in r.answers],
    }


def next_text(plan: LaunchPlan, readings: tuple[NextReading, ...], shown: int = SHOWN, width: int = 110) -> list[str]:
    """The first measurements with reason, minutes, cost, and what to beware of."""
    proposed = _apart(readings)[:shown]
    if not proposed:
        return ["Measure next: no declared measurement would tell much more about the cause."]
    units = _units(plan)
    head = "Measure next, the most that is expected to be told a minute first:"
    if proposed[0].confirms:
        head = (
            "One cause is as good as sure. To confirm it against one that nobody declared (figures as if both were "
            "equally likely):"
        )
    lines = wrap(head, width)
    for i, r in enumerate(proposed, 1):
        m = r.measurement
        needs, beware = (f"Needs: {m.needs}." if m.needs else ""), (f"Beware: {m.beware}" if m.beware else "")
        lines += wrap(f"{i}. {_head(r)}", width)
        lines += [f"   {line}" for text in (_says(r, units), needs, beware) if text for line in wrap(text, width - 3)]
    return lines


def _head(r: NextReading) -> str:
    m = r.measurement
    cost = f"cost {number(m.cost, 3)}" if m.cost else "no further cost"
    on = f" ({', '.join(r.parts)})" if r.parts else ""
    lost = ", the parts are lost" if m.destructive else ""
    share = "more than 99 %" if r.share > 0.99 else f"{100.0 * r.share:.0f} %"
    work = f"{number(m.minutes, 3)} min, {cost}{lost}, {DANGER[m.danger]}"
    return f"{m.title}{on}: {work}; expected to settle {share} of what is open."


def _apart(readings: tuple[NextReading, ...]) -> list[NextReading]:
    """Those proposed, without any that reads again what a quicker one reads and tells hardly more."""
    kept: list[NextReading] = []
    for r in (r for r in readings if r.proposed):
        own = {x.name for x in r.measurement.reads}
        alike = [k for k in kept if own & {x.name for x in k.measurement.reads}]
        if all(r.information > k.information + MORE for k in alike):
            kept.append(r)
    return kept


def _units(plan: LaunchPlan) -> dict[str, str]:
    whole = with_checks(plan)
    units = {c.name: f"{c.unit} abs" if c.pressure else c.unit for p in whole.plans.values() for c in p.gives}
    return units | {v.name: v.unit for p in whole.plans.values() for v in p.values}


def _says(r: NextReading, units: Mapping[str, str]) -> str:
    """`Above 5 N: force cell not zeroed. -5 to 5 N: charged too low.`"""
    readouts = {x.name: x for x in r.measurement.reads}
    said = []
    several = len(readouts) > 1
    for a in r.answers[:NAMED]:
        where = [_range(x, units[x.name], several) for x in a.ranges]
        text = (", " if several else " or ").join(where)
        who = f" ({a.who})" if a.who.startswith(("part", "group")) else ""
        said.append(f"{_capital(a.title)}{who}: {text}{'' if a.decides or several else ', not decisive'}.")
    return (f"In {r.told_of}: " if r.told_of else "") + " ".join(said)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _range(x: Range, unit: str, named: bool) -> str:
    """`9.61 to 9.64 mm`, `above 5 N`, to the digits that its width asks for."""
    label = f"{x.name.split('.')[-1].replace('_', ' ')} " if named else ""
    shown = "" if unit in ("", "1") else f" {unit}"
    if x.low is None and x.high is None:
        return f"{label}any value"
    plain = unit.removesuffix(" abs")
    step = size_from_si(x.step, plain)
    places = max(0, math.ceil(-math.log10(step))) if step > 0.0 else 3
    low, high = (None if v is None else f"{round(float(from_si(v, plain)), places) + 0.0:.{places}f}"
                 for v in (x.low, x.high))  # fmt: skip
    if low is not None and high is not None:
        return f"{label}{low} to {high}{shown}"
    return f"{label}above {low}{shown}" if low is not None else f"{label}below {high}{shown}"
