"""Follow: the readings of running lots in the order in which they came, and where something slips."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from firstoff.chain.station import Characteristic
from firstoff.launch.job import Job
from firstoff.launch.prove import Proof, limits_of, prove
from firstoff.methods.conformity import Limits
from firstoff.methods.run_rules import RUN, Individuals, individuals_chart, moving_ranges, one_sided_runs
from firstoff.trials.capability import AcrossLots
from firstoff.trials.readings import Trial

BASE = 20  # values from which control limits are drawn: common practice, no source
LEAST = 8  # values below which no control limits are drawn: assumed
OUTSIDE, BEYOND, JUMP, IN_A_ROW = "outside", "beyond", "jump", "run"
WORDS = {
    OUTSIDE: "outside its limits",
    BEYOND: "beyond the control limits",
    JUMP: "a jump from the value before",
    IN_A_ROW: f"{RUN} or more in a row on one side of the centre",
}


@dataclass(frozen=True)
class Point:
    """One part of a chart, SI: the mean of its readings, and what it signals (keys of WORDS)."""

    part: str
    lot: str
    value: float
    time: str = ""
    signals: tuple[str, ...] = ()


@dataclass(frozen=True)
class Chart:
    """One characteristic over the parts, SI. `control` is None where there are too few values, or all are alike."""

    characteristic: Characteristic
    points: tuple[Point, ...]
    base: int  # of these the first, from which the control limits are drawn
    control: Individuals | None
    across: AcrossLots | None = None  # capability, where several lots were read

    @property
    def signals(self) -> tuple[str, ...]:
        """Every kind of signal on the chart, the gravest first."""
        seen = {signal for point in self.points for signal in point.signals}
        return tuple(word for word in WORDS if word in seen)

    @property
    def provisional(self) -> bool:
        """Control limits drawn from fewer values than practice asks for."""
        return self.control is not None and self.base < BASE


@dataclass(frozen=True)
class Slipping:
    """A lot with signals: in which characteristics, and which of its parts were read outside their limits."""

    lot: str
    signals: tuple[tuple[str, tuple[str, ...]], ...]  # characteristic, kinds
    outside: tuple[str, ...]
    parts: tuple[str, ...]  # all parts of the lot that were read

    @property
    def grave(self) -> bool:
        """Whether a part of it was read outside its limits."""
        return bool(self.outside)


@dataclass(frozen=True)
class Follow:
    """The running lots of a launch."""

    proof: Proof
    charts: tuple[Chart, ...]
    slipping: tuple[Slipping, ...]  # the gravest first
    by_time: bool  # False: not every reading has a time, they stand in the order of the file
    good: str  # lot that was known as good and stands first; empty without one

    def as_dict(self) -> dict[str, Any]:
        """The result as plain values, SI."""
        return {
            "model": self.proof.job.name,
            "readings": self.proof.trial.file,
            "by_time": self.by_time,
            "charts": [
                {"characteristic": c.characteristic.name, "unit": c.characteristic.unit, "base": c.base,
                 "control": asdict(c.control) if c.control else None, "points": [asdict(p) for p in c.points],
                 "signals": list(c.signals), "across": asdict(c.across) if c.across else None}
                for c in self.charts
            ],
            "slipping": [asdict(s) for s in self.slipping],
        }  # fmt: skip


def follow(job: Job, readings: Path, good: Path | None = None, table: str | None = None) -> Follow:
    """Charts of every characteristic with limits that was read, and the lots in which something slips.

    Known-good parts stand first; the control limits are drawn from the first 20 values (individuals and moving range),
    fewer are called provisional. Signals: a value outside its limits, beyond the control limits, a jump beyond the
    moving range's limit, 8 in a row on one side of the centre. Raises InputFault for faults of sheet or readings.
    """
    proof = prove(job, readings, None, table, (), good)
    times = _times(proof.trial)
    by_time = bool(times) and all(times.values())
    lots = {v.lot for v in proof.judgement.parts}
    first = [p for p in _of_good(proof.good) if p[1].lot not in lots] if proof.good else []
    across = {a.characteristic: a for a in proof.across}
    charts = []
    for name, c in proof.characteristics.items():
        if limits_of(c) == Limits():
            continue
        points = [Point(v.part, v.lot, v.value, times.get((v.lot, v.part), "")) for v in proof.judgement.parts
                  if v.characteristic == name]  # fmt: skip
        if not points:
            continue
        if by_time:
            points.sort(key=lambda p: _moment(p.time) or datetime.min)
        charts.append(_chart(c, [p for n, p in first if n == name], points, across.get(name)))
    label = next((p.lot for _, p in first), "")
    return Follow(proof, tuple(charts), _slipping(charts, label), by_time, label)


def _of_good(good: Trial) -> list[tuple[str, Point]]:
    """Characteristic and part of a known-good lot, in the order of its file."""
    found: dict[tuple[str, str, str], list[float]] = {}
    for r in good.readings:
        found.setdefault((r.characteristic, r.lot, r.part), []).append(r.value)
    return [(name, Point(part, lot, sum(x) / len(x))) for (name, lot, part), x in found.items()]


def _times(trial: Trial) -> dict[tuple[str, str], str]:
    """(lot, part) -> when it was read first; empty where the file does not say, or says something else."""
    found: dict[tuple[str, str], str] = {}
    for r in trial.readings:
        found.setdefault((r.lot, r.part), r.time if _moment(r.time) else "")
    return found


def _moment(words: str) -> datetime | None:
    try:
        return datetime.fromisoformat(words).replace(tzinfo=None)
    except ValueError:
        return None


def _chart(c: Characteristic, first: list[Point], running: list[Point], across: AcrossLots | None) -> Chart:
    points = [*first, *running]
    values = [p.value for p in points]
    base = max(len(first), min(BASE, len(values)))
    control = individuals_chart(values[:base]) if base >= LEAST else None
    if control is not None and control.moving <= 1e-12 * max(map(abs, values)):
        control = None
    signals: list[list[str]] = [[OUTSIDE] if _is_outside(v, c) else [] for v in values]
    if control is not None:
        ranges = (0.0, *moving_ranges(values))
        runs = one_sided_runs(values, control.centre)
        for kinds, x, moved, in_a_row in zip(signals, values, ranges, runs, strict=True):
            kinds += [BEYOND] if not control.low <= x <= control.high else []
            kinds += [JUMP] if moved > control.moving_high else []
            kinds += [IN_A_ROW] if in_a_row else []
    marked = (Point(p.part, p.lot, p.value, p.time, tuple(k)) for p, k in zip(points, signals, strict=True))
    return Chart(c, tuple(marked), base, control, across)


def _is_outside(value: float, c: Characteristic) -> bool:
    return (c.low is not None and value < c.low) or (c.high is not None and value > c.high)


def _slipping(charts: Iterable[Chart], good: str) -> tuple[Slipping, ...]:
    """Every lot with a signal but the known-good one, the gravest first."""
    kinds: dict[str, dict[str, list[str]]] = {}
    parts: dict[str, dict[str, bool]] = {}  # lot -> part -> read outside a limit
    for chart in charts:
        for p in chart.points:
            of_lot = parts.setdefault(p.lot, {})
            of_lot[p.part] = of_lot.get(p.part, False) or OUTSIDE in p.signals
            if p.signals:
                kinds.setdefault(p.lot, {}).setdefault(chart.characteristic.name, []).extend(p.signals)
    found = [
        Slipping(lot, tuple((name, tuple(w for w in WORDS if w in seen)) for name, seen in of.items()),
                 tuple(part for part, bad in parts[lot].items() if bad), tuple(parts[lot]))
        for lot, of in kinds.items() if not good or lot != good
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda s: (not s.grave, -len(s.outside))))
