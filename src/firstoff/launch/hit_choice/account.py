"""The account of what a hit's limits need."""

from __future__ import annotations

from pathlib import Path

from firstoff.launch.account import ALWAYS, in_unit, limits_text
from firstoff.launch.folder import made_from
from firstoff.launch.hit_choice.choose import Answer, HitChoice, Trial
from firstoff.launch.owner import claim
from firstoff.launch.write import write_text
from firstoff.report.tables import share, table, wrap
from firstoff.sheets.units import format_value

WIDTH = 110
END = (
    "Each alone, all else as the sheet has it. Computed, and no proof: another grade, depth or bracket is another "
    "design, to be planned, formed and hit. A hit's limits are not kept the better the stronger the bar: brackets and "
    "lamps decide."
)


def choice_text(found: HitChoice) -> str:
    """The present part, then each lever with what it has to be and what else that moves."""
    said = found.hit.replace("_", " ")
    lines = [f"CHOOSE  hit {said} at {format_value(found.speed, 'km/h', 3)}: {_percent(found.asked)} of builds to keep"]
    lines += [f"        {c.name} {limits_text(c)} {c.unit}" for c in found.limits]
    lines += ["", f"As the sheet has it: {_share(found.present)}.", ""]
    rows = [(a.title, in_unit(a.present, a.unit, 4), _value(a), a.unit, _confirmed(a)) for a in found.answers]
    lines.append(table(("alone", "now", "needed", "unit", "confirmed by a run of the chain"), rows, width=WIDTH))
    for a in found.answers:
        lines += ["", *_details(a)]
    return "\n".join([*lines, "", *wrap(END, WIDTH)])


def _value(a: Answer) -> str:
    if a.value is None:
        return "none"
    end = a.value == min(t.value for t in a.tried) and a.value < a.present
    return in_unit(a.value, a.unit, 4) + (" or less" if end else "")


def _confirmed(a: Answer) -> str:
    if a.value is None or a.share is None or a.low is None or a.high is None:
        best = max(a.tried, key=lambda t: -1.0 if t.share is None else t.share)
        return (
            f"no value of the range does; {best.why} fails first" if best.share is not None else "none can be planned"
        )
    told = f"{_percent(a.share)} ({_percent(a.low)} to {_percent(a.high)}), {a.builds} builds"
    return told if a.confirmed else f"{told}: less than asked"


def _details(a: Answer) -> list[str]:
    tried = "; ".join(f"{in_unit(t.value, a.unit, 3)}: {_percent(t.share) if t.share is not None else 'not planned'}"
                      for t in a.tried)  # fmt: skip
    lines = wrap(f"{a.lever} [{a.unit}], share that keeps the limits: {tried}.", WIDTH)
    refused = next((t.why for t in a.tried if t.share is None and t.why), "")
    if refused:
        lines += wrap(f"  not planned: {refused}.", WIDTH)
    if a.worse:
        worse = ", ".join(f"{name} {share(more)}" for name, more in a.worse)
        lines += wrap(
            f"  with {_value(a)} {a.unit}, more parts outside: {worse}; dies and settings have to follow.", WIDTH
        )
    return lines


def _share(trial: Trial) -> str:
    return "the part cannot be planned" if trial.share is None else f"{_percent(trial.share)} of builds keep them"


def _percent(x: float) -> str:
    return f"{100.0 * x:.4g} %"


def write_hit_choice(found: HitChoice, folder: Path) -> list[Path]:
    """`choose-hit.md`."""
    claim(found.job, folder)
    page = f"# {found.job.name} {found.job.revision}: what the hit {found.hit} needs\n\n{ALWAYS}\n\n"
    page += f"```\n{choice_text(found)}\n```\n\n{made_from(found.job)}\n"
    return [write_text(folder / "choose-hit.md", page)]
