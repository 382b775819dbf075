"""What an engineer reads in a minute: the results of a verb as plain text."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from firstoff.chain.predict import CharacteristicPrediction, Rate
from firstoff.chain.station import Characteristic
from firstoff.errors import Message, counted
from firstoff.launch.plan import LaunchPlan
from firstoff.launch.predict import LaunchPrediction
from firstoff.report.tables import number, share, table
from firstoff.sheets.units import from_si, size_from_si

ALWAYS = (
    "A calculation is not a certificate: local codes, the supplier's safety data and a licensed or authorised person "
    "decide."
)
MOST_PLACES = 6  # behind the point

SAFETY_NOTE = "(S): safety characteristic; only readings may release it, never a calculation."


def named(c: Characteristic) -> str:
    """The characteristic's name, with the mark of a safety characteristic."""
    return f"{c.name} (S)" if c.safety else c.name


def safety_note(characteristics: Iterable[Characteristic]) -> list[str]:
    """What the mark means, when it is there."""
    return [SAFETY_NOTE] if any(c.safety for c in characteristics) else []


def in_unit(value: float | None, unit: str, digits: int = 4) -> str:
    """A SI value as a number in the characteristic's unit."""
    return number(None if value is None else float(from_si(value, unit)), digits)


def mean_in_unit(mean: float, sd: float, unit: str) -> str:
    """A SI mean in the characteristic's unit, to the second digit of its scatter: further ones say nothing."""
    size = size_from_si(sd, unit)
    places = max(0, 1 - math.floor(math.log10(size))) if size > 0.0 else MOST_PLACES + 1
    if places > MOST_PLACES:
        return in_unit(mean, unit, 5)
    return f"{round(float(from_si(mean, unit)), places) + 0.0:.{places}f}"


def limits_text(c: Characteristic) -> str:
    """`1128 to 1378`, `≤ 40`, `≥ 5`, or nothing."""
    if c.low is not None and c.high is not None:
        return f"{in_unit(c.low, c.unit, 6)} to {in_unit(c.high, c.unit, 6)}"
    if c.high is not None:
        return f"≤ {in_unit(c.high, c.unit, 6)}"
    return f"≥ {in_unit(c.low, c.unit, 6)}" if c.low is not None else ""


def plan_text(plan: LaunchPlan) -> str:
    """Route card with settings, and the part at nominal settings against its limits."""
    job = plan.job
    lines = [f"PLAN  {job.name}" + (f", revision {job.revision}" if job.revision else ""), ""]
    route = []
    for station in plan.route:
        settled = plan.plans[station.name]
        first = "; ".join(f"{what} {value}" for what, value in settled.setup[:2])
        route.append((f"op {job.family.operation(station.name)}", station.title, first))
    for station in plan.rigs:
        first = "; ".join(f"{what} {value}" for what, value in plan.plans[station.name].setup[:1])
        route.append(("rig", station.title, first))
    lines += [table(("", "station", "set to"), route, width=110), ""]
    rows = [
        (named(c), c.unit, in_unit(plan.nominal.get(c.name), c.unit, 5), limits_text(c), _place(c, plan.nominal))
        for c in plan.characteristics.values()
        if c.low is not None or c.high is not None
    ]
    lines.append(table(("at nominal settings", "unit", "value", "limits", ""), rows, width=110))
    lines += safety_note(c for c in plan.characteristics.values() if (c.low, c.high) != (None, None))
    lines += ["", *map(_warning, plan.warnings)] if plan.warnings else []
    if plan.measured_only:
        lines += ["", f"Only measured, not computed: {', '.join(plan.measured_only)}."]
    assumed = plan.assumptions()
    lines += ["", f"{counted(len(assumed), 'assumption')}, each listed with its source in plan.md."]
    return "\n".join(lines)


def _warning(m: Message) -> str:
    return f"WARNING  {m.key}: {m.what}" + (f"; did you mean {m.nearest}?" if m.nearest else ".")


def _place(c: Characteristic, nominal: object) -> str:
    value = nominal.get(c.name) if isinstance(nominal, dict) else None
    if value is None:
        return "no value at nominal"
    if (c.low is not None and value < c.low) or (c.high is not None and value > c.high):
        return "OUTSIDE at nominal"
    return ""


def rate_text(rate: Rate | None) -> str:
    """`1.2 % (0.9 to 1.5 %)`, or an upper bound when nothing was seen."""
    if rate is None:
        return ""
    if rate.rejects == 0:
        return share(rate.high, bound="<")
    return f"{share(rate.share)} ({share(rate.low)} to {share(rate.high)})"


def predict_text(prediction: LaunchPrediction) -> str:
    """Spread and share outside limits of every characteristic with limits, and who carries it."""
    found = prediction.builds
    lots = "every build from a lot of its own"
    if found.parts_per_lot:
        lots = f"{counted(found.replicates, 'lot')} of {counted(found.n // found.replicates, 'build')} each"
    lines = [f"PREDICT  {found.n} trial builds, seed {found.seed}, {lots}", ""]
    rows = [_row(c, prediction) for c in found.characteristics if c.outside is not None]
    sds = ("sd within a lot", f"sd over these {found.replicates} lots") if found.parts_per_lot else ("sd",)
    heads = ("characteristic", "unit", "mean", *sds, "limits", "outside limits (95 % interval)", "carried most by")
    limited = [c.characteristic for c in found.characteristics if c.outside is not None]
    lines += [table(heads, rows, width=140 if found.parts_per_lot else 120), *safety_note(limited), ""]
    lines.append(f"Any characteristic outside: {rate_text(found.any_outside)}")
    lines += _odd_builds(prediction)
    if found.assumed:
        one = len(found.assumed) == 1
        lines += [
            f"{counted(len(found.assumed), 'scattering parameter')} {'has' if one else 'have'} a scatter read from a "
            "tolerance or assumed;",
            "these rates echo it until it is measured (see plan.md).",
        ]
    return "\n".join(lines)


def _odd_builds(prediction: LaunchPrediction) -> list[str]:
    """What stations could not make of builds that came to them in good order, and the parameter behind it."""
    lines = []
    for station, words in prediction.builds.status.items():
        own = {w: n for w, n in words.items() if n and w != "ok" and not w.startswith("spoilt at ")}
        if not own:
            continue
        text = ", ".join(f"{counted(count, 'build')} {word}" for word, count in own.items())
        blamed = prediction.builds.blame.get(station)
        if blamed and blamed.parameter:
            side = "high" if blamed.deviation > 0.5 else "low" if blamed.deviation < -0.5 else "far off on either side"
            text += f", above all those with {blamed.parameter} {side}"
        lines.append(f"{station}: {text}")
    return lines


def _row(c: CharacteristicPrediction, prediction: LaunchPrediction) -> tuple[str, ...]:
    unit, scatter = c.characteristic.unit, c.scatter
    mean = "–" if scatter is None else mean_in_unit(scatter.mean, scatter.sd, unit)
    sds = [None if scatter is None else scatter.sd]
    if prediction.builds.parts_per_lot:
        sds.insert(0, None if scatter is None else scatter.within_lot_sd)
    shown = [number(None if sd is None else size_from_si(sd, unit), 2) for sd in sds]
    leading = leading_parameters(prediction, c.characteristic.name)
    return (named(c.characteristic), unit, mean, *shown, limits_text(c.characteristic), rate_text(c.outside), leading)


def leading_parameters(prediction: LaunchPrediction, characteristic: str, most: int = 1) -> str:
    """The parameters that carry most of a characteristic's scatter, with their share."""
    shares = prediction.shares
    if characteristic not in shares.characteristics or not len(shares.parameters):
        return ""
    column = shares.total[:, shares.characteristics.index(characteristic)]
    order = np.argsort(-column, kind="stable")[:most]
    names = [name.split(".", 1)[1].replace("_", " ") for name in shares.parameters]
    return ", ".join(f"{names[i]} {column[i]:.0%}" for i in order if column[i] >= 0.05)
