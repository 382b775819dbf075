"""The account of a correction: what to move, by how much, what else that moves, and what becomes of the parts."""

from __future__ import annotations

from collections.abc import Sequence

from firstoff.launch.account import in_unit, limits_text
from firstoff.launch.correcting.correct import SURE, Correction, LaunchCorrection, Line, Move, Place
from firstoff.launch.correcting.fate import PartFate
from firstoff.launch.correcting.ways import Way
from firstoff.launch.plan import left_out
from firstoff.methods.rates import clopper_pearson
from firstoff.report.tables import number, probability, share, table, wrap
from firstoff.sheets.units import format_value, size_from_si

WIDTH = 110
MOVED = 0.5  # standard deviations: a characteristic without limits that moves by less is not listed
LEFT = 0.01  # share outside that a correction leaves and that is worth a word
ODD = 0.01  # share of parts out of a model's range that is worth a word
END = "Computed, not tried: make five parts with the correction, read them, and prove them before the line runs."


def correct_text(found: LaunchCorrection) -> str:
    """The cause, the corrections with their trouble, the first of them in full, and the parts already made."""
    blocks = [_cause(found), _state(found), _confirm(found)]
    if found.verdict == "rig":
        blocks.append(_rig(found))
    elif found.verdict == "part":
        blocks.append(_single(found))
    else:
        blocks += _proposals(found)
    unseen = left_out(found.explanation.plan)
    said = f" Not computed with it: {', '.join(unseen)}; predict the corrected sheet." if unseen else ""
    end = wrap(END + said, WIDTH) if found.corrections else []
    blocks += [_parts(found), [*_cautions(found), *end]]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def move_text(move: Move, found: LaunchCorrection) -> str:
    """`rebound relief preload 84 to 102 N, 9 steps of 2 N up`, or the cure of a fault."""
    if move.cure:
        return f"cure the cause: {found.explanation.faults[move.parameter].cure}"
    movement = found.explanation.plan.job.changes[move.parameter]
    unit = "K" if move.unit == "degC" else move.unit
    reference = " abs" if movement.pressure else ""
    before, after = (in_unit(v, move.unit, 5) for v in (move.before, move.after))
    count = abs(move.steps)
    name = unit if unit != "1" else ""
    step = f"{number(size_from_si(move.step, move.unit), 4)} {name}".strip()
    way = "up" if move.steps > 0 else "down"
    return f"{movement.title} {before} to {after} {name}".strip() + (
        f"{reference}, {count} step{'s' * (count != 1)} of {step} {way}"
    )


def title_of(correction: Correction, found: LaunchCorrection) -> str:
    text = "; ".join(move_text(m, found) for m in correction.moves)
    return text if correction.where == "all parts" else f"{text} (only {correction.where})"


def _cause(found: LaunchCorrection) -> list[str]:
    top = found.top
    size = ""
    if top.kind != "nothing" and not found.size_given:
        cause = next((c for c in found.explanation.found.causes if c.name == top.name), None)
        size = found.explanation.size_text(cause) if cause else ""
    sure = "named by you" if found.by_user else f"probability {probability(top.stated)}"
    who = "" if top.kind == "nothing" else f", {top.who}"
    text = f"{top.title}{who}{', ' + size if size else ''} ({sure})"
    first, *rest = wrap(text, WIDTH - 9)
    doubt = []
    if found.doubted is not None:
        other = found.doubted
        doubt = wrap(
            f"WARNING  the readings do not speak for this cause; they rather say: {other.title}, {other.who} "
            f"({probability(other.stated)}).", WIDTH,
        )  # fmt: skip
    return [f"CORRECT  {first}", *rest, *doubt]


def _state(found: LaunchCorrection) -> list[str]:
    """What is out when nothing is moved."""
    if found.verdict == "rig":
        return []
    out = [line for line in found.before if line.before.outside is not None and line.before.outside >= 0.001]
    out.sort(key=lambda line: -(line.before.outside or 0.0))
    lines = ["When nothing is moved, every characteristic stays inside its limits."]
    if out:
        named = ", ".join(f"{line.name} {share(line.before.outside or 0.0)}" for line in out[:6])
        more = f" and {len(out) - 6} more" if len(out) > 6 else ""
        lines = wrap(f"Outside when nothing is moved, share of the parts to come: {named}{more}.", WIDTH)
    if found.verdict == "leave":
        text = f"Nothing has to be moved: the parts keep to their limits (probability {probability(found.stays)})."
        lines += wrap(text, WIDTH)
    return lines


def _rig(found: LaunchCorrection) -> list[str]:
    fault = found.explanation.faults[found.top.name.split(" + ")[0]]
    return [
        "No setting is moved: the readings are off, not the parts.",
        *wrap(f"To correct: {fault.cure}", WIDTH),
        *wrap(f"To confirm: {fault.confirm}", WIDTH),
        "Then read every part again; prove and explain from the new readings.",
    ]


def _single(found: LaunchCorrection) -> list[str]:
    lines = ["No setting is moved: one part is affected, the process is not."]
    for name in found.top.name.split(" + "):
        fault = found.explanation.faults.get(name)
        if fault is not None:
            lines += wrap(f"To cure: {fault.cure}", WIDTH)
            lines += wrap(f"To confirm: {fault.confirm}", WIDTH)
    return lines


def _proposals(found: LaunchCorrection) -> list[list[str]]:
    if not found.corrections and found.verdict == "leave":
        return [["To follow ordinary scatter with a setting would only add to it."]]
    if not found.corrections:
        return [["No setting that may be moved has any say in what is outside.", *_would(found)]]
    head = "corrections, least trouble first"
    if found.verdict == "nothing works":
        head = "NOTHING brings all characteristics back; the nearest misses"
    elif found.verdict == "leave":
        head = "if more room to the limits is wanted"
    rows = [
        (str(i), title_of(c, found), _chance(c, found), number(c.minutes, 3), number(c.cost, 4),
         "customer" if c.customer_approval else "none", why(c, found))
        for i, c in enumerate(found.corrections, 1)
    ]  # fmt: skip
    heads = ("", head, "works", "min", "cost", "approval", "why")
    blocks = [[table(heads, rows, width=WIDTH)]]
    if found.verdict == "nothing works":
        blocks.append(_would(found))
    return blocks + _in_full(found, found.corrections[0], 1)


def _chance(c: Correction, found: LaunchCorrection) -> str:
    return probability(c.if_confirmed if found.by_user or len(found.ways) == 1 else c.probability)


def why(c: Correction, found: LaunchCorrection) -> str:
    """What speaks for a correction against the others, and what against it."""
    others, cures = found.corrections, found.explanation.plan.job.cures
    said = []
    if any(m.cure for m in c.moves):
        said.append("undoes the cause itself")
    elif found.top.name in cures and not cures[found.top.name].by_setting:
        said.append("the cause stays in the parts")
    stations = {m.parameter.split(".")[0] for m in c.moves if not m.cure}
    if stations and stations <= set(found.top.stations):
        said.append("at the cause's own station")
    elif stations:
        said.append("makes up for it elsewhere")
    if len(others) > 1 and c.minutes < min(o.minutes for o in others if o is not c):
        said.append("least time")
    if len(others) > 1 and c.cost < min(o.cost for o in others if o is not c):
        said.append("least cost")
    if found.whichever and others.index(c) + 1 in found.whichever:
        said.append("good whichever cause it is")
    left = [line for line in c.lines if (line.after.outside or 0.0) >= LEFT and line.name not in c.worse]
    if left:
        most = max(left, key=lambda line: line.after.outside or 0.0)
        said.append(f"leaves {most.name} {share(most.after.outside or 0.0)} outside")
    if c.worse:
        said.append("takes room from " + ", ".join(c.worse[:3]))
    return "; ".join(said)


def _would(found: LaunchCorrection) -> list[str]:
    if not found.would:
        return ["No wider range of the settings would do it either: the cause itself must go, or the drawing change."]
    return [line for text in found.would for line in wrap(f"It would come back with {text}.", WIDTH)]


def _in_full(found: LaunchCorrection, c: Correction, count: int) -> list[list[str]]:
    """Every characteristic with limits before and after; of the others those that move."""
    rows = [row(line, found) for line in c.lines if line.before.outside is not None]
    heads = ("", "unit", "limits", "before: mean", "sd", "outside", "after: mean", "sd", "outside", "")
    head = [
        f"With correction {count}, over {found.trial_builds} trial builds of the whole chain with the cause in them:"
    ]
    lines = []
    free = [line for line in c.lines if line.before.outside is None and _moves(line.before, line.after)]
    if free:
        texts = [_shift(line, found) for line in free]
        lines += wrap("Without limits, but moved: " + ", ".join(texts) + ".", WIDTH)
    n = found.trial_builds
    lines.append(
        f"Parts with anything outside: {outside_text(found.outside, n)} before, {outside_text(c.outside, n)} after."
    )
    if c.worse:
        lines += wrap("WORSE than before: " + ", ".join(c.worse) + ".", WIDTH)
    if c.odd > ODD:
        text = f"In {share(c.odd)} of the parts a station's model would leave its range: trust these figures less."
        lines += wrap(text, WIDTH)
    left = found.explanation.plan.measured_only
    if left:
        lines += wrap(f"Computed by no station, so not looked at: {', '.join(left)}.", WIDTH)
    return [head, [table(heads, rows, width=WIDTH)], lines]


def row(line: Line, found: LaunchCorrection) -> tuple[str, ...]:
    """One characteristic of the table, before and after."""
    c = found.characteristics[line.name]

    def cells(place: Place) -> tuple[str, str, str]:
        sd = number(None if place.sd is None else size_from_si(place.sd, c.unit), 2)
        return in_unit(place.mean, c.unit, 5), sd, outside_text(place.outside, found.trial_builds)

    flag = "worse" if line.worse else ""
    return (line.name, c.unit, limits_text(c), *cells(line.before), *cells(line.after), flag)


def outside_text(outside: float | None, builds: int) -> str:
    """A share of the trial builds; none of them is an upper bound (95 %)."""
    if outside is None:
        return ""
    return share(outside) if outside > 0.0 else share(clopper_pearson(0, builds)[1], bound="<")


def _moves(before: Place, after: Place) -> bool:
    if before.mean is None or after.mean is None or before.sd is None:
        return False
    return abs(after.mean - before.mean) > MOVED * before.sd and after.mean != before.mean


def _shift(line: Line, found: LaunchCorrection) -> str:
    unit = found.characteristics[line.name].unit
    ends = [format_value(p.mean, unit, 4) if p.mean is not None else "no value" for p in (line.before, line.after)]
    return f"{line.name} {ends[0]} to {ends[1]}"


def _confirm(found: LaunchCorrection) -> list[str]:
    """What must be ruled out first, and what would tell the causes apart."""
    if found.by_user or found.top.kind in ("rig", "part", "nothing"):
        return []
    lines = []
    if found.top.kind == "unknown":
        lines += ["CONFIRM FIRST: no declared cause explains this. Find it before a setting makes up for it."]
    elif found.confirm or found.top.stated < SURE:
        other = ", ".join(f"{w.title} {probability(w.stated)}" for w in found.confirm)
        also = f" It may also be: {other}." if other else ""
        lines += wrap(f"CONFIRM FIRST: the cause is not sure.{also}", WIDTH)
    for way in (found.top, *found.confirm):
        lines += [line for text in _confirmations(way, found) for line in wrap(text, WIDTH)]
    if any(w.kind == "rig" for w in found.confirm):
        lines += ["If it is the rig, no setting is moved: correct the rig and read the parts again."]
    if found.confirm and found.whichever:
        which = ", ".join(map(str, found.whichever))
        lines.append(f"Good whichever of these causes it is: correction {which}.")
    elif len(found.likely) > 1 and found.corrections:
        lines.append("No correction shown is good for all of these causes.")
    return lines


def _confirmations(way: Way, found: LaunchCorrection) -> list[str]:
    faults = [found.explanation.faults[n] for n in way.name.split(" + ") if n in found.explanation.faults]
    return [f"To confirm {f.title}: {f.confirm}." for f in faults]


def _parts(found: LaunchCorrection) -> list[str]:
    """The parts already made, those with one fate together."""
    groups: dict[tuple[str, str], list[PartFate]] = {}
    for fate in found.fates:
        groups.setdefault((fate.do, fate.why), []).append(fate)
    lines = ["The parts already made; no setting changes them:"] if groups else []
    for (do, reason), fates in groups.items():
        about = _listed(list(dict.fromkeys(name for f in fates for name in f.out)), 4)
        text = f"{do}: {_listed([f.part for f in fates])} ({about}{': ' if about else ''}{reason})."
        lines += ["  " + line for line in wrap(text, WIDTH - 2)]
    if groups and found.verdict in ("move", "nothing works"):
        lines += ["  hold: parts of this lot that were not read, until each has been."]
    return lines


def _listed(parts: Sequence[str], most: int = 8) -> str:
    more = f" and {len(parts) - most} more" if len(parts) > most else ""
    return ", ".join(parts[:most]) + more


def _cautions(found: LaunchCorrection) -> list[str]:
    """What can hurt while the correction is made or the parts are set aside."""
    plan = found.explanation.plan
    said: dict[str, None] = {}
    for c in found.corrections[:1]:
        for move in c.moves:
            if not move.cure:
                said |= dict.fromkeys(plan.plans[move.parameter.split(".")[0]].cautions)
    for name in found.top.name.split(" + "):
        fault = found.explanation.faults.get(name)
        if fault is not None and fault.beware:
            said[fault.beware] = None
    if plan.job.family.handling and any(f.do != "use" for f in found.fates):
        said[plan.job.family.handling] = None
    return [line for text in said for line in wrap(f"Beware: {text}", WIDTH)]
