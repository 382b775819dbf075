"""The pages of a chosen valve in the launch folder: Markdown, PDF and figure."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from firstoff import __version__
from firstoff.launch.account import ALWAYS
from firstoff.launch.owner import claim
from firstoff.launch.valve_choice.account import (
    BEFORE_USE,
    HEADS,
    choose_text,
    forces_rows,
    miss_row,
    miss_text,
    money_lines,
    need_lines,
    notes,
    row,
    why_first,
    why_second,
)
from firstoff.launch.valve_choice.choose import LaunchChoice
from firstoff.launch.valve_choice.search import Choice
from firstoff.launch.valve_choice.sheet import changed_lines
from firstoff.launch.write import write_bytes, write_text
from firstoff.report.choice_figure import Valve, choice_figure
from firstoff.report.pages import Figure, Paper, Section, Table
from firstoff.report.printing import paper_pdf
from firstoff.stations.damper.damping_rig import force_name

FIGURE = "choose.svg"
FEW = 3  # valves in the figure, beside the present one
ALT = "Force over rod speed of the best valves between the customer's limits; below, their place in each tolerance."
CAUTIONS = (
    "Springs under test are under load: eye protection, fingers out of the fixture.",
    "A charged damper is never opened, heated or welded; an authorised person vents it first, by the procedure.",
)


def write_choice(found: LaunchChoice, folder: Path) -> list[Path]:
    """`choose.md`, `choose.pdf` and `choose.svg`."""
    job = found.plan.job
    claim(job, folder)
    folder.mkdir(parents=True, exist_ok=True)
    figure = draw(found, folder / FIGURE)
    page = f"# {job.name}: choosing the valve\n\n{ALWAYS}\n\n```\n{choose_text(found)}\n```\n\n"
    page += f"![the best valves between the limits]({FIGURE})\n\n## From\n\n"
    page += "".join(f"- {name}: sha256 {digest}\n" for name, digest in found.sha256.items())
    svg = Figure(figure.read_text("utf-8"), "The best valves between the limits", ALT)
    return [
        write_text(folder / "choose.md", f"{page}\nfirstoff {__version__}\n"),
        write_bytes(folder / "choose.pdf", paper_pdf(choice_paper(found, svg))),
        figure,
    ]


def draw(found: LaunchChoice, path: Path) -> Path:
    """The best few and the present valve between the limits."""
    pairs = sorted(
        (float(v), float(t.low[i]), float(t.high[i])) for t in found.tables for i, v in enumerate(t.speeds)
    )  # fmt: skip
    names = [force_name(v) for v, _, _ in pairs]

    def valve(c: Choice) -> Valve:
        nominal = np.array([c.nominal[n] for n in names])
        if c.trial is None:
            return Valve(c.name, nominal)
        return Valve(
            c.name, nominal, np.array([c.trial.mean[n] for n in names]), np.array([c.trial.sd[n] for n in names])
        )

    title = f"{found.plan.job.name}: valves from the bin" + ("" if found.meeting else ", nearest misses")
    return choice_figure(
        path,
        speeds=np.array([v for v, _, _ in pairs]),
        limits=(np.array([low for _, low, _ in pairs]), np.array([high for _, _, high in pairs])),
        valves=[valve(c) for c in (*found.choices[:FEW], found.present)],
        title=title,
    )


def choice_paper(found: LaunchChoice, figure: Figure) -> Paper:
    """What is printed: result, money, forces, lines to change, and how it was found."""
    job = found.plan.job
    lines = [_lines(found)] if found.meeting else []
    sections = [_result(found), _parts(found), _forces(found, figure), *lines, _how(found)]
    return Paper("Choosing the valve", job.name, job.revision, job.plant, __version__, tuple(sections),
                 word="PROPOSAL" if found.meeting else "NO VALVE", tone="open" if found.meeting else "bad",
                 says=_says(found), hashes=tuple(found.sha256.items()))  # fmt: skip


def _says(found: LaunchChoice) -> tuple[str, ...]:
    """What it comes to, for the first page."""
    if not found.meeting:
        return ("Nothing in the bin meets the table.", miss_text(found), *need_lines(found))
    first = row(found.choices[0])
    piston = f"Piston valve {first[1]}; check {first[2]}; {first[3]}."
    return (piston, f"Base valve {first[4]}; intake {first[5]}; {first[6]}.", why_first(found), BEFORE_USE)


def _result(found: LaunchChoice) -> Section:
    if found.meeting:
        heads: tuple[str, ...] = (
            "",
            "outside (95 %)",
            "room [sd]",
            "most of tolerance at nominal",
            "cost",
            "new",
            "short",
        )
        rows = [_cells(row(c), (0, 8, 9, 7, 10, 11, 12)) for c in (*found.choices, found.present)]
        paragraphs = (why_first(found), why_second(found), *money_lines(found))
        title = f"Ranked by {found.builds} trial builds each, the same draws for all"
    else:
        heads = ("", "most of tolerance at nominal", "cost", "new", "short")
        rows = [_cells(miss_row(c), (0, 7, 8, 9, 10)) for c in found.choices]
        paragraphs = (miss_text(found), *need_lines(found), *money_lines(found))
        title = "Nothing in the bin meets the table: nearest misses"
    what = f"{found.bin.name}: {found.combinations} valves, of which {found.meeting} keep every limit at nominal."
    return Section(
        "Result", CAUTIONS, (what, *paragraphs, BEFORE_USE, ALWAYS), tables=(Table(heads, tuple(rows), title),)
    )


def _cells(of: Sequence[str], which: Sequence[int]) -> tuple[str, ...]:
    return tuple(of[i] for i in which)


def _parts(found: LaunchChoice) -> Section:
    rows = [_cells(row(c) if found.meeting else miss_row(c), range(7)) for c in found.choices]
    return Section("The valves, by part number", tables=(Table(HEADS[:7], tuple(rows)),))


def _forces(found: LaunchChoice, figure: Figure) -> Section:
    heads, rows = forces_rows(found)
    return Section("Forces at nominal [N]", tables=(Table(heads, tuple(rows)),), figures=(figure,))


def _lines(found: LaunchChoice) -> Section:
    rows = tuple(
        (f"{c.file}:{c.line}" if c.file else "new line", c.parameter, c.before or "–", c.after, c.part)
        for c in changed_lines(found, found.choices[0])
    )
    heads = ("where", "parameter", "before", "after", "part")
    return Section("Lines of the sheet that the first valve changes", tables=(Table(heads, rows),) if rows else ())


def _how(found: LaunchChoice) -> Section:
    return Section("How it was found, and what is assumed", items=tuple(notes(found)))
