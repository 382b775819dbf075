"""The account of an explanation: what it is likely to be, how sure that is, and what would confirm it."""

from __future__ import annotations

from firstoff.launch.explaining.explain import LaunchExplanation
from firstoff.launch.explaining.next_reading import SHOWN as NEXT
from firstoff.launch.explaining.next_reading import next_text
from firstoff.report.tables import probability, table, wrap
from firstoff.sheets.units import format_value
from firstoff.trials.explain import Cause

WHO = {"none": "nothing is wrong", "all": "all parts", "group": "one group of parts", "one": "one part"}
SHOWN = 3  # causes in full
HINTS = 3
SHOWN_MOVED = 6
STEADY = 0.5  # least change of a calibrated parameter, in prior standard deviations, that is worth a line


def explain_text(explanation: LaunchExplanation) -> str:
    """One part, all or a group; the causes ranked; what speaks for the first; what to look at next."""
    found = explanation.found
    lines = [
        f"EXPLAIN  {len(explanation.trial.readings)} readings, {len(explanation.faults)} declared faults compared",
        "",
    ]
    who = sorted(found.who.items(), key=lambda item: -item[1])
    lines.append(
        "Who is affected: " + ", ".join(f"{WHO[w]} {probability(p)}" for w, p in who if p >= 0.01 or w == "all")
    )
    rows = [_row(cause, explanation) for cause in found.causes[: SHOWN + 2] if cause.probability >= 0.02]
    if rows:
        lines += ["", table(("likely cause", "where", "who", "size", "probability"), rows, width=110)]
    lines += [
        "",
        f"Nothing is wrong: {probability(found.none)}. Something nobody declared: {probability(found.other)}.",
    ]
    if found.causes and found.causes[0].probability > found.none:
        lines += _first(found.causes[0], explanation)
    lines += [f"Note: {text}." for text in found.statements]
    lines += _undeclared(explanation)
    few = 1 if found.none >= 0.5 else NEXT  # where nothing is accused, not much is to be measured
    lines += ["", *next_text(explanation.plan, explanation.next, few)]
    lines += _limits(explanation)
    return "\n".join(lines)


def _row(cause: Cause, explanation: LaunchExplanation) -> tuple[str, ...]:
    stations = ", ".join(name.replace("_", " ") for name in cause.stations)
    return cause.title, stations, cause.who, explanation.size_text(cause), probability(cause.probability)


def _first(cause: Cause, explanation: LaunchExplanation) -> list[str]:
    """What speaks for and against the first cause, and what its station says about it."""
    lines = []
    speak = [(name, gain) for name, gain in cause.readings if gain > 0.5]
    against = [(name, gain) for name, gain in cause.readings if gain < -0.5]
    if speak:
        lines.append("Speaking for it: " + ", ".join(name for name, _ in speak[:5]) + ".")
    if against:
        lines.append("Speaking against it: " + ", ".join(name for name, _ in against[:5]) + ".")
    if cause.alike:
        lines.append("These readings do not tell it from: " + ", ".join(_titles(cause.alike, explanation)) + ".")
    for name in cause.name.split(" + "):
        fault = explanation.faults.get(name)
        if fault is not None:
            lines += wrap(f"To confirm: {fault.confirm}", 110)
            lines += wrap(f"To cure: {fault.cure}", 110)
            lines += wrap(f"Beware: {fault.beware}", 110) if fault.beware else []
    return lines


def _undeclared(explanation: LaunchExplanation) -> list[str]:
    """Where to look when no declared cause explains the readings."""
    found = explanation.found
    if found.other < 0.2:
        return []
    lines = []
    for hint in found.hints[:HINTS]:
        if hint.probability >= 0.05:
            where = hint.station.replace("_", " ")
            text = f"{explanation.hint_text(hint)} ({where}, {hint.who})"
            lines.append(f"Of what nobody declared, this would do it: {text}, {probability(hint.probability)}.")
    if explanation.calibration is not None:
        free = explanation.calibration
        lines += ["", "Everything calibrated at once (many settings can give the same readings; this accuses nobody):"]
        values = explanation.prepared.values
        rows = []
        for m in (m for m in free.moved if abs(m.shift) >= STEADY * m.prior_sd):
            unit = "K" if values[m.name].unit == "degC" else values[m.name].unit
            change, sd = format_value(m.shift, unit, 3), format_value(m.sd, unit, 2)
            rows.append((m.name, change, f"± {sd}"))
        lines.append(table(("parameter", "change", "1 sd"), rows[:SHOWN_MOVED], width=110) if rows else "nothing moves")
        lines.append(f"Readings off by {free.before:.1f} sd before, {free.misfit:.1f} sd after (root mean square).")
    return lines


def _titles(names: tuple[str, ...], explanation: LaunchExplanation) -> list[str]:
    return [explanation.faults[n].title if n in explanation.faults else n for n in names]


def _limits(explanation: LaunchExplanation) -> list[str]:
    """What this answer cannot see."""
    lines = []
    if not explanation.anchored:
        lines.append("Without a known-good lot (--good) the model's own bias is an unknown, and the answer is weaker.")
    if explanation.found.unseen:
        hidden = "; ".join(_titles(explanation.found.unseen, explanation))
        lines += wrap(f"These would hardly show in these readings: {hidden}.", 110)
    lines += [
        line for text in explanation.plan.job.family.not_seen for line in wrap(f"Not seen by the model: {text}.", 110)
    ]
    if explanation.prepared.not_used:
        lines.append(f"Read but computed by no station: {', '.join(explanation.prepared.not_used)}.")
    return ["", *lines, "A probable cause is no proof: confirm it before anything is changed."]
