"""The pages of a correction in the launch folder."""

from __future__ import annotations

from pathlib import Path

from firstoff import __version__
from firstoff.launch.account import ALWAYS
from firstoff.launch.correcting.account import correct_text, outside_text, row, title_of
from firstoff.launch.correcting.changes import step_text
from firstoff.launch.correcting.correct import Correction, LaunchCorrection, Place
from firstoff.launch.job import sha256
from firstoff.launch.owner import claim
from firstoff.launch.write import write_text
from firstoff.report.tables import probability
from firstoff.sheets.units import from_si, size_from_si

FIGURE = "correct.svg"
HEADS = ("characteristic", "unit", "limits", "before: mean", "sd", "outside", "after: mean", "sd", "outside", "")


def write_correction(found: LaunchCorrection, folder: Path) -> list[Path]:
    """`correct.md`: the corrections, every characteristic before and after each of them, and what was assumed; and the
    figure of the first."""
    job = found.explanation.plan.job
    page = f"# {job.name}: correction\n\n{ALWAYS}\n\n```\n{correct_text(found)}\n```\n"
    claim(job, folder)
    figure = draw(found, folder)
    if figure:
        page += f"\n![before and after the first correction]({FIGURE})\n"
    for i, c in enumerate(found.corrections, 1):
        page += f"\n## Correction {i}: {title_of(c, found)}\n\n{_how(c, found)}{_markdown(c, found)}"
    page += "\n## Assumed\n\n" + "".join(f"- {text}\n" for text in found.assumptions)
    digests = dict(job.sha256)
    readings = Path(found.explanation.trial.file)
    if readings.is_file():
        digests[readings.name] = sha256(readings)
    page += "\n## From\n\n" + "".join(f"- {name}: sha256 {digest}\n" for name, digest in digests.items())
    written = [write_text(folder / "correct.md", f"{page}\nfirstoff {__version__}\n")]
    return written + ([figure] if figure else [])


def _how(c: Correction, found: LaunchCorrection) -> str:
    """Where each setting is moved, and how sure the correction is under each cause."""
    changes = found.explanation.plan.job.changes
    lines = []
    for move in c.moves:
        if move.cure:
            cure = found.explanation.plan.job.cures[move.parameter]
            lines.append(f"- {cure.note or 'undo the cause'} ({cure.source})")
        else:
            m = changes[move.parameter]
            lines.append(f"- `{m.parameter}`: {m.how}; steps of {step_text(m)} ({m.source})")
    lines += [
        f"- if it is {way.title} (probability {probability(way.probability)}): works with probability {probability(p)}"
        for way, p in zip(found.ways, c.by_way, strict=True)
    ]
    return "\n".join(lines) + "\n\n"


def _markdown(c: Correction, found: LaunchCorrection) -> str:
    rows = [HEADS, ("---",) * len(HEADS), *(row(line, found) for line in c.lines)]
    return "".join("| " + " | ".join(cells) + " |\n" for cells in rows)


def draw(found: LaunchCorrection, folder: Path) -> Path | None:
    """Before and after the first correction; nothing when there is none."""
    from firstoff.report.move_figure import Interval, before_and_after

    if not found.corrections:
        return None
    intervals = []
    for line in found.corrections[0].lines:
        c = found.characteristics[line.name]
        before, after = (_numbers(place, c.unit, found.trial_builds) for place in (line.before, line.after))
        if before and after:
            low, high = (None if x is None else float(from_si(x, c.unit)) for x in (c.low, c.high))
            intervals.append(Interval(f"{line.name} [{c.unit}]", low, high, before, after))
    if not intervals:
        return None
    title = f"{found.explanation.plan.job.name}: {title_of(found.corrections[0], found)}"
    return before_and_after(folder / FIGURE, intervals=intervals, title=title)


def _numbers(place: Place, unit: str, builds: int) -> tuple[float, float, str] | None:
    if place.mean is None or place.sd is None or place.outside is None:
        return None
    return float(from_si(place.mean, unit)), size_from_si(place.sd, unit), outside_text(place.outside, builds)
