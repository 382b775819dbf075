"""The account of running lots: what slips, which parts carry it, and each characteristic on one line."""

from __future__ import annotations

from collections.abc import Mapping

from firstoff.errors import counted
from firstoff.launch.account import in_unit, limits_text, named
from firstoff.launch.following.affected import Affected
from firstoff.launch.following.follow import BASE, WORDS, Chart, Follow, Slipping
from firstoff.report.tables import number, table, wrap

WIDTH = 110
SHOWN = 60  # parts that are named on screen


def follow_text(found: Follow, affected: Mapping[str, Affected]) -> str:
    """The lots that slip first, then every characteristic. affected: lot -> what the records say it went into."""
    job = found.proof.job
    head = f"FOLLOW  {job.name}" + (f", revision {job.revision}" if job.revision else "")
    order = "by the times of the readings" if found.by_time else "in the order of the file"
    parts = len({(p.lot, p.part) for chart in found.charts for p in chart.points})
    lines = [head, "", f"{counted(parts, 'part')}, {order}" + (f"; known-good lot {found.good}" if found.good else "")]
    if not found.slipping:
        lines += ["", "No lot shows a signal."]
    for slip in found.slipping:
        lines += ["", *_slip(slip, affected.get(slip.lot))]
    heads = ("characteristic", "unit", "parts", "limits", "centre", "control limits", "Ppk", "signals")
    lines += ["", table(heads, [_row(chart) for chart in found.charts], width=WIDTH)]
    few = [c for c in found.charts if c.provisional]
    if few:
        said = f"Control limits of {counted(len(few), 'characteristic')} from fewer than {BASE} parts: provisional."
        lines += wrap(said, WIDTH)
    return "\n".join(lines)


def _slip(slip: Slipping, found: Affected | None) -> list[str]:
    lines = [f"{'OUT OF LIMITS' if slip.grave else 'SLIPPING'}  lot {slip.lot or 'without a name'}"]
    for name, kinds in slip.signals:
        lines += [f"  {line}" for line in wrap(f"{name}: {'; '.join(WORDS[k] for k in kinds)}", WIDTH - 2)]
    if slip.outside:
        lines += _named(f"Read outside a limit ({len(slip.outside)})", slip.outside)
    if found is None or not found.known:
        return lines + _named(f"The records do not say what it went into; read were ({len(slip.parts)})", slip.parts)
    lines += _named(f"Parts that carry it by the records ({len(found.parts)})", _short(found.parts))
    for origin in found.origins:
        lines += _named(f"Made from {origin.item}, which {len(origin.parts)} parts carry; lots", _short(origin.lots))
    return lines


def _short(items: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(i.split(":", 1)[1] for i in items)


def _named(title: str, names: tuple[str, ...]) -> list[str]:
    more = f" and {len(names) - SHOWN} more" if len(names) > SHOWN else ""
    return [f"  {line}" for line in wrap(f"{title}: {', '.join(names[:SHOWN]) or 'none'}{more}.", WIDTH - 2)]


def _row(chart: Chart) -> tuple[str, ...]:
    c, control = chart.characteristic, chart.control
    ppk = chart.across.ppk if chart.across else None
    centre = in_unit(control.centre if control else None, c.unit, 5)
    return (
        named(c), c.unit, str(len(chart.points)), limits_text(c), centre,
        f"{in_unit(control.low, c.unit, 5)} to {in_unit(control.high, c.unit, 5)}" if control else "–",
        number(ppk.value if ppk else None, 3), ", ".join(chart.signals),
    )  # fmt: skip
