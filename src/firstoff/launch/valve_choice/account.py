"""What an engineer reads about the chosen valve: on the screen, and as the rows of the pages."""

from __future__ import annotations

from firstoff.errors import counted
from firstoff.launch.account import in_unit, rate_text, safety_note
from firstoff.launch.valve_choice.choose import ROUNDS, LaunchChoice
from firstoff.launch.valve_choice.need import Need
from firstoff.launch.valve_choice.search import BAND, ENOUGH, PILOT, PRESENT, Choice, banded
from firstoff.launch.valve_choice.sheet import changed_lines
from firstoff.report.tables import number, table
from firstoff.sheets.units import format_value
from firstoff.stations.damper.damping_rig import force_name

HEADS = ("", "piston, bleed, stack, spring", "check", "set up", "base, bleed, stack, spring", "intake", "set up",
         "most of tolerance at nominal", "outside (95 %)", "room [sd]", "cost", "new", "short")  # fmt: skip
BEFORE_USE = "A valve that no damper has been built with is a proposal: only first-offs on the rig release it."


def choose_text(found: LaunchChoice) -> str:
    """The whole account as plain text."""
    lines = [f"CHOOSE  {found.bin.name}: {_thousands(found.combinations)} valves, {_meet(found)}", ""]
    if found.meeting:
        lines += [f"Ranked by trial builds, {found.builds} each from the same draws, seed {found.seed}."]
        lines += [table(HEADS, [row(c) for c in (*found.choices, found.present)], width=160), ""]
        lines += [why_first(found), why_second(found)]
    else:
        lines += ["Nothing in the bin meets the table. The nearest misses:"]
        lines += [table(HEADS[:8] + HEADS[10:], [miss_row(c) for c in found.choices], width=150), ""]
        lines += [miss_text(found), *need_lines(found)]
    lines += ["", *money_lines(found), "", "Forces at nominal [N] against the customer's table:", forces_table(found)]
    lines += safety_note(found.plan.characteristics[n] for n in found.present.nominal)
    lines += ["", *change_lines(found)] if found.meeting else []
    lines += ["", *notes(found), BEFORE_USE]
    return "\n".join(lines)


def _meet(found: LaunchChoice) -> str:
    if not found.meeting:
        return "none keeps every limit of the table at nominal"
    return f"{_thousands(found.meeting)} keep every limit of the table at nominal"


def _thousands(count: int) -> str:
    return f"{count:,}".replace(",", " ")


def _parts(c: Choice) -> tuple[str, str, str, str]:
    """Part numbers of piston valve, check, base valve, intake."""
    if not c.parts:
        return "parts that are not in the bin", "", "", ""
    names = [f"{n} × {p.number}" if n > 1 else p.number for p, n, _ in c.parts]
    return ", ".join(names[:4]), names[4], ", ".join(names[5:9]), names[9]


def row(c: Choice) -> tuple[str, ...]:
    """One valve: parts, how it is set, how it keeps the table, and its money."""
    piston, check, base, intake = _parts(c)
    trial = c.trial
    assert trial is not None
    title = "now" if c.title == PRESENT else c.title
    return (
        title, piston, check, c.set_up[0], base, intake, c.set_up[1], f"{100 * c.most_use:.0f} %",
        rate_text(trial.outside), f"{trial.room:.1f}", *_money(c),
    )  # fmt: skip


def miss_row(c: Choice) -> tuple[str, ...]:
    """One valve that misses the table at nominal."""
    piston, check, base, intake = _parts(c)
    return (c.title, piston, check, c.set_up[0], base, intake, c.set_up[1], f"{100 * c.most_use:.0f} %", *_money(c))


def _money(c: Choice) -> tuple[str, str, str]:
    if not c.parts:
        return "", "", ""
    short = ", ".join(f"{n}: {missing}" for n, missing in c.short)
    return f"{c.cost:.3f}", ", ".join(c.new) or "none", short or "none"


def why_first(found: LaunchChoice) -> str:
    """What the first valve's room is, and how it stands to the present one."""
    first, now = found.choices[0], found.present
    assert first.trial is not None and now.trial is not None
    text = f"First: its nearest limit is {first.trial.nearest}, {first.trial.room:.1f} standard deviations away"
    return text + f"; as the sheet has it, {now.trial.nearest}, {now.trial.room:.1f}."


def why_second(found: LaunchChoice) -> str:
    """Why the second in the list is not the first."""
    if len(found.choices) < 2:
        return "There is no second valve that was tried."
    a, b = found.choices[:2]
    assert a.trial is not None and b.trial is not None
    if a.trial.outside.rejects != b.trial.outside.rejects:
        only_a, only_b = (
            int((a.trial.rejected & ~b.trial.rejected).sum()),
            int((b.trial.rejected & ~a.trial.rejected).sum()),
        )
        text = f"{b.trial.outside.rejects} against {a.trial.outside.rejects} rejects of the same {found.builds} builds"
        return f"The second loses by its rejects: {text}; {only_b} are its alone, {only_a} the first's alone."
    alike = "The second has as many rejects"
    if banded(a.trial.room) != banded(b.trial.room):
        text = f"{b.trial.room:.2f} against {a.trial.room:.2f} standard deviations"
        return f"{alike}; it loses by its room to the nearest limit ({b.trial.nearest}): {text}."
    alike += " and, in bands, as much room"
    if bool(a.short) != bool(b.short):
        return f"{alike}; it loses by its stock: " + ", ".join(f"{n} {m} short" for n, m in b.short) + "."
    if round(a.money, 6) != round(b.money, 6):
        text = f"{b.money:.3f} against {a.money:.3f} a damper"
        more = f", {counted(len(b.new), 'new part number')} spread over {found.quantity} dampers" if b.new else ""
        return f"{alike}; it loses by its money: {text}{more}."
    text = f"{100 * b.most_use:.1f} % against {100 * a.most_use:.1f} %"
    return f"{alike}, and costs the same; it loses by its use of the tolerance at nominal: {text}."


def miss_text(found: LaunchChoice) -> str:
    """Where the nearest valve misses, and by how much."""
    c, said = found.choices[0], []
    for name, force in c.nominal.items():
        limits = found.plan.characteristics[name]
        if limits.low is not None and force < limits.low:
            said.append(f"{name} {in_unit(force, 'N')} N, {number(limits.low - force, 3)} N below its limit")
        elif limits.high is not None and force > limits.high:
            said.append(f"{name} {in_unit(force, 'N')} N, {number(force - limits.high, 3)} N above its limit")
        elif force != force:
            said.append(f"{name} has no value")
    return "The nearest misses " + "; ".join(said) + "."


def need_lines(found: LaunchChoice) -> list[str]:
    """Which dimension, made to measure, would bring the nearest valve inside; checked by the kernel."""
    lines = []
    for direction in ("rebound", "compression"):
        made = [n for n in found.needs if n.direction == direction]
        lines += [f"{direction.capitalize()}: {need_text(n)}." for n in made]
    return lines


def need_text(n: Need) -> str:
    """`rebound discs 0.31 mm thick (0.305 to 0.318 mm would do; now 0.35 mm)`."""
    words = n.words.format(format_value(n.value, n.unit))
    now = f"now {format_value(n.now, n.unit)}"
    if n.second:
        _, unit, other, was, value = n.second
        pair = f"{words} ({now}) with {other.format(format_value(value, unit))} (now {format_value(was, unit)})"
        return f"no single dimension would do; {pair} would, at {100 * n.use:.0f} % of the tolerance at nominal"
    if not n.does:
        return f"no single dimension would do; {words} comes nearest, at {100 * n.use:.0f} % of the tolerance ({now})"
    ends = f"{format_value(n.low, n.unit)} to {format_value(n.high, n.unit)}"
    return f"{words} would do, at {100 * n.use:.0f} % of the tolerance at nominal; so would {ends} ({now})"


def money_lines(found: LaunchChoice) -> list[str]:
    """What the first valve takes for the quantity asked."""
    c = found.choices[0]
    text = f"For {found.quantity} dampers the first takes parts for {number(c.cost * found.quantity, 5)}"
    text += f", and {number(c.one_off, 5)} once to bring in {', '.join(c.new)}" if c.new else ""
    lines = [f"{text}, in the plant's own money{'' if c.new else '; no new part number'}."]
    lines += [f"Short: {counted(missing, 'piece')} of {name}." for name, missing in c.short]
    return lines


def forces_table(found: LaunchChoice) -> str:
    """Every force of the table for the first three valves and the present one."""
    heads, rows = forces_rows(found)
    return table(heads, rows, width=140)


def forces_rows(found: LaunchChoice) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Heads and rows: limits, and the nominal force of the best few and of the present valve."""
    shown = [*found.choices[:3], found.present]
    heads = ("force", "limits", *(c.name for c in shown))
    rows = []
    for t in found.tables:
        for i, v in enumerate(t.speeds):
            name = force_name(v)
            low, high = (number(float(x), 5) for x in (t.low[i], t.high[i]))
            safety = " (S)" if found.plan.characteristics[name].safety else ""
            rows.append((name + safety, f"{low} to {high}", *(in_unit(c.nominal[name], "N") for c in shown)))
    return heads, rows


def change_lines(found: LaunchChoice) -> list[str]:
    """The lines of the model sheet that the first valve changes."""
    changed = changed_lines(found, found.choices[0])
    if not changed:
        return ["The first is the valve that the sheet has: no line changes."]
    lines = [f"The first changes {counted(len(changed), 'line')} of the sheet:"]
    for c in changed:
        place = f"{c.file}:{c.line}" if c.file else "new line"
        was = f" (was {c.before})" if c.before else ""
        lines.append(f"  {place}: {c.parameter} = {c.after}{was}" + (f"  # {c.part}" if c.part else ""))
    return lines


def notes(found: LaunchChoice) -> list[str]:
    """How it was found, and what was taken without evidence."""
    lines = [
        f"Every combination was weighed at nominal, by {_thousands(found.computed)} curves of the kernel: rebound "
        "follows from piston and intake, compression from base valve and check"
        + (" (here gas lifts the compression chamber above the reserve, so the base valve counts in rebound too)."
           if found.lifted else "; exact."),
        "The whole chain gives the same forces for the valves that were tried: largest relative difference "
        f"{found.verified:.1e}.",
    ]  # fmt: skip
    if found.meeting:
        lines.append(
            f"To trial builds went up to {ROUNDS[0][0]} sets of parts with most room by a pilot of {PILOT} builds, "
            "each with its best preloads, alike ones by stock and cost; a valve beyond these was not tried."
        )
        lines.append(
            f"Rank: rejects, then room to the nearest limit in bands of {BAND:g} sd up to {ENOUGH:g} (assumed), then "
            "stock, then cost with new part numbers, then use at nominal."
        )
    lines += [f"Left out: {n} of one side: {what}." for what, n in found.dropped.items()]
    lines += assumed(found)
    return lines


def assumed(found: LaunchChoice) -> list[str]:
    """Parts of the first valve whose dimensions nobody has measured, and scatter that the plant sheet outranks."""
    c = found.choices[0]
    parts = {p.number: p.source for p, _, _ in c.parts if p.source.startswith("assumed")}
    lines = [f"{name}: {source}." for name, source in parts.items()]
    outranked = [n for n in c.stated if n in found.plan.job.settings.capability]
    if outranked:
        lines.append(f"Measured scatter of the plant sheet outranks the bin's: {', '.join(outranked)}.")
    return lines
