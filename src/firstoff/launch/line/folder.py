"""The folder of a line: chart, moves as CSV, setup sheet. All of it can be made again from the plant sheet."""

from __future__ import annotations

import csv
import io
from fractions import Fraction
from pathlib import Path

from firstoff import __version__
from firstoff.launch.line.account import proof_text, sec
from firstoff.launch.line.chart_data import crane_ways, soak_bars, tank_rows
from firstoff.launch.line.moves import moves_csv, rows_of
from firstoff.launch.line.plan import LinePlan
from firstoff.launch.line.recovery import LineRecovery, recovery_text
from firstoff.launch.line.sheet import line_sheet
from firstoff.launch.write import write_text
from firstoff.line.replay_plant import lay_out
from firstoff.line.replay_recovery import laid_out
from firstoff.report.line_chart import line_chart
from firstoff.report.line_sheet import line_markdown

LONGEST = 900.0  # s on one chart


def write_line(plan: LinePlan, folder: Path) -> list[Path]:
    """`line-chart.svg` of one period, `line-moves.csv` and `line-setup.md`."""
    folder.mkdir(parents=True, exist_ok=True)
    return [
        _chart(plan, folder / "line-chart.svg"),
        write_text(folder / "line-moves.csv", moves_csv(rows_of(plan))),
        write_text(folder / "line-setup.md", line_markdown(line_sheet(plan), __version__)),
    ]


def _chart(plan: LinePlan, path: Path) -> Path:
    """One period of the full line; loads are numbered in the order they come."""
    table, line = plan.answer.table, plan.line
    assert table is not None
    trips = lay_out(line, table)
    loads = len(table.loads)
    stay = max(x.downs[-1] for x in table.loads) - min(x.lifts[0] for x in table.loads)
    cycle = int(stay // table.period) + 2
    begin = min(load.lifts[0] for load in table.loads) + cycle * table.period
    label = {t.load: f"{t.load % loads + 1}" if loads > 1 else "" for t in trips}
    for load in {t.load for t in trips}:
        back = cycle - load // loads
        label[load] = (label[load] + (f" −{back}" if back > 0 else "")).strip()
    span = (0.0, float(table.period))
    note = (
        "One period of the full line. Numbers in the bars: "
        + ("load of the cycle, and " if loads > 1 else "")
        + "how many cycles ago the load was hung on. Planned, not measured; interlocks decide."
    )
    title = f"{line.name}: period {sec(table.period)} for {loads} load{'s' if loads > 1 else ''}"
    return line_chart(
        path,
        tanks=tank_rows(line),
        soaks=soak_bars(line, trips, (), begin, label),
        cranes=crane_ways(line, trips, begin, span),
        span=span,
        title=title + f" ({proof_text(plan.answer).split(':')[0].lower()})",
        note=note,
    )


def write_recovery(found: LineRecovery, folder: Path) -> list[Path]:
    """`recovery.md`, `recovery-moves.csv`, and charts of the time until the loads of the beginning are off."""
    folder.mkdir(parents=True, exist_ok=True)
    page = f"# {found.line.name}: way back\n\n```\n{recovery_text(found)}\n```\n\nfirstoff {__version__}\n"
    written = [
        write_text(folder / "recovery.md", page),
        write_text(folder / "recovery-moves.csv", _recovery_csv(found)),
    ]
    assert found.plan.answer.table is not None
    whole, trips, given = laid_out(found.line, found.state, found.plan.answer.table, found.recovery)
    spoilt = frozenset(-1 - k for k, x in enumerate(found.state.loads) if x.name in found.recovery.spoilt)
    label = {-1 - k: x.name for k, x in enumerate(found.state.loads)}
    label |= {t.load: f"new {t.load + 1}" for t in trips if t.load >= 0}
    end = float(max(found.recovery.clear or 0, (found.recovery.joined or 0) + found.plan.answer.table.period))
    pages = max(1, -int(-end // LONGEST))
    for page_number in range(pages):
        span = (end * page_number / pages, end * (page_number + 1) / pages)
        name = f"recovery-chart-{page_number + 1}.svg" if pages > 1 else "recovery-chart.svg"
        written.append(
            line_chart(
                folder / name,
                tanks=tank_rows(found.line),
                soaks=soak_bars(whole, trips, given, Fraction(0), label, spoilt),
                cranes=crane_ways(whole, trips, Fraction(0), span, found.state.cranes),
                span=span,
                title=f"{found.line.name}: way back, part {page_number + 1} of {pages}",
                note="New loads follow the timetable. Cross-hatched: cannot be saved. Planned; interlocks decide.",
            )
        )
    return written


def _recovery_csv(found: LineRecovery) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["lift [s]", "set down [s]", "load", "product", "from", "to", "crane", "spoilt"])
    for m in found.recovery.moves:
        crane = found.line.cranes[m.crane].name
        cells = [float(m.start), float(m.end), m.load, m.product, " | ".join(m.source), " | ".join(m.target), crane,
                 "yes" if m.load in found.recovery.spoilt else "no"]  # fmt: skip
        writer.writerow(["'" + c if isinstance(c, str) and c[:1] in ("=", "+", "-", "@") else c for c in cells])
    return out.getvalue()
