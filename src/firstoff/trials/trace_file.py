"""Reads a file of raw traces: time, displacement and force of one part in motion, point by point; CSV or Parquet."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import numpy.typing as npt

from firstoff.errors import InputFault, Message, counted, nearest
from firstoff.trials import readings_csv, trace_parquet
from firstoff.trials.cells import Bad, Cell, decimal_mark, number
from firstoff.trials.columns import Units, plain, split_header
from firstoff.trials.table import load, raise_if, refuse
from firstoff.trials.trace_parquet import Column

FloatArray = npt.NDArray[np.float64]
KINDS = ("CSV text", "Parquet")
POINTS = {"time": "s", "displacement": "mm", "force": "N", "velocity": "m/s", "temperature": "degC"}
NEEDED = ("time", "displacement", "force")
LABELS = ("part", "lot", "group", "gauge", "cycle", "speed")
ALIKE = {"travel": "displacement", "position": "displacement"}
SPEED_UNIT = "m/s"


@dataclass(frozen=True)
class Layout:
    """What a gauge says of its traces: what a column is (by its plain name), its unit, and which way is positive."""

    what: Mapping[str, str] = field(default_factory=dict)
    unit: Mapping[str, str] = field(default_factory=dict)
    displacement_in: bool = False  # displacement grows as the rod goes in
    force_compression: bool = False  # force is positive in compression


@dataclass(frozen=True)
class Trace:
    """One part's motion at one speed, SI: displacement positive out, force positive in tension."""

    file: str
    part: str
    lot: str
    group: str
    gauge: str
    speed: float | None  # as the file states it
    time: FloatArray
    displacement: FloatArray
    force: FloatArray
    velocity: FloatArray | None
    temperature: float | None  # K, mean
    lines: npt.NDArray[np.int64]  # where each point stands
    place: str = "line"  # or row, of a Parquet file

    def fault(self, what: str, at: int | None = None, found: str = "", allowed: str = "") -> Message:
        """What is wrong with this trace, at one of its points or as a whole."""
        line = int(self.lines[0] if at is None else self.lines[at])
        names = (self.part and f"part {self.part}", self.speed is not None and f"{self.speed:g} m/s")
        key = ", ".join(str(name) for name in (*names, self.place == "row" and f"row {line}") if name)
        return Message(what, self.file, line, key, found, allowed)


def read(path: Path, layout: Layout, units: Units, part: str = "") -> tuple[list[Trace], list[Message]]:
    """The traces of a file, and remarks. `part`: whose they are where no column says so.

    Raises InputFault with every fault of the file; nothing is half read.
    """
    data, file = load(path), str(path)
    if data.startswith(b"PAR1"):
        columns, lines, place, comma = trace_parquet.columns(data, file)
        remarks: list[Message] = []
    elif data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise refuse(file, "is a workbook: a trace is a file of its own", allowed=" or ".join(KINDS))
    else:
        table = readings_csv.read_table(data, file, lambda cells: _known(cells, layout))
        wide = len(table.header)
        long = next((row for row in table.rows if any(cell != "" for cell in row.cells[wide:])), None)
        if long is not None:
            what = f"has more cells than the header's {wide}"
            raise refuse(file, what, allowed="decimal commas need ; between the cells", line=long.line)
        cells = zip(*((*row.cells, *[""] * (wide - len(row.cells)))[:wide] for row in table.rows), strict=True)
        columns = [Column(name, list(of)) for name, of in zip(table.header, cells, strict=False)]
        if not table.rows:
            columns = [Column(name, []) for name in table.header]
        lines, place, comma = [row.line for row in table.rows], "line", table.comma_likely
        remarks = list(table.messages)
    work = _Work(file, layout, units, place, lines, comma, remarks)
    found = work.traces(columns, part)
    return found, work.remarks


def _known(cells: tuple[str, ...], layout: Layout) -> int:
    words = {*POINTS, *LABELS, *ALIKE, *layout.what}
    return sum(plain(split_header(cell)[0]) in words for cell in cells)


@dataclass
class _Work:
    """One file while it is read."""

    file: str
    layout: Layout
    units: Units
    place: str
    lines: Sequence[int]
    comma: bool
    remarks: list[Message]

    def fault(
        self, what: str, key: str = "", at: int = 0, found: str = "", allowed: str = "", near: str = ""
    ) -> Message:
        if self.place == "row" and at:
            key = f"{key}, row {at}" if key else f"row {at}"
        return Message(what, self.file, at, key, found, allowed, near)

    def traces(self, columns: Sequence[Column], part: str) -> list[Trace]:
        kinds, faults = self._kinds(columns)
        if faults:
            raise InputFault(faults)
        if not len(self.lines):
            raise refuse(self.file, "has no points", allowed="points under the header")
        if len(self.lines) > trace_parquet.MOST_POINTS:
            raise refuse(self.file, "has too many points", allowed=f"up to {trace_parquet.MOST_POINTS}")
        values = self._values(columns, kinds)
        labels = {kind: self._label(columns[at]) for kind, (at, _) in kinds.items() if kind in LABELS[:-1]}
        return [self._one(rows, values, labels, part) for rows in self._groups(values, labels)]

    def _kinds(self, columns: Sequence[Column]) -> tuple[dict[str, tuple[int, str]], list[Message]]:
        """kind -> its column and unit, and every fault of the header."""
        kinds: dict[str, tuple[int, str]] = {}
        faults: list[Message] = []
        for at, column in enumerate(columns):
            written, unit = split_header(column.name)
            word = plain(written)
            kind = self.layout.what.get(word) or ALIKE.get(word, word)
            if kind not in POINTS and kind not in LABELS:
                if word:
                    self.remarks.append(Message("is no column of a trace and was not read", self.file, key=column.name,
                                                level="remark"))  # fmt: skip
                continue
            if kind in kinds:
                faults.append(self.fault("is there twice", column.name))
                continue
            expected = POINTS.get(kind) or (SPEED_UNIT if kind == "speed" else "")
            given = column.unit or unit or self.layout.unit.get(kind) or self.layout.unit.get(word)
            what = self.units.fault(given, expected) if expected else ""
            if what:
                allowed = f"{kind} [{expected}], or the unit under [[gauge]] trace of the plant sheet"
                faults.append(self.fault(what, column.name, found=given or "none", allowed=allowed))
            kinds[kind] = (at, given or "")
        names = [column.name for column in columns]
        for kind in NEEDED:
            if kind not in kinds and not faults:
                near = nearest(kind, [split_header(name)[0] for name in names if name])
                allowed = f"a column {kind} [{POINTS[kind]}]"
                faults.append(self.fault("is missing", kind, found=", ".join(names[:8]), allowed=allowed, near=near))
        return kinds, faults

    def _values(self, columns: Sequence[Column], kinds: Mapping[str, tuple[int, str]]) -> dict[str, FloatArray]:
        """Every column of numbers in SI. InputFault names the first bad cell of each column, and how many there are."""
        numeric = {kind: of for kind, of in kinds.items() if kind in POINTS or kind == "speed"}
        texts = (cell for at, _ in numeric.values() for cell in columns[at].texts)
        mark, sure = decimal_mark(texts, self.comma)
        if not sure:
            what = "every comma was read as a decimal comma; none of them proves it"
            self.remarks.append(Message(what, self.file, level="remark"))
        found, faults = {}, []
        for kind, (at, unit) in numeric.items():
            column = columns[at]
            raw, bad = column.numbers(lambda cell: number(cell, mark))
            wrong = np.flatnonzero(~np.isfinite(raw))
            if len(wrong):
                first = int(wrong[0])
                cell = column.shown(first)
                what = f"{counted(len(wrong), 'point')} without a usable number, the first here: {bad or 'is empty'}"
                faults.append(self.fault(what, column.name, self.lines[first], cell, "a number in every line"))
                continue
            found[kind] = self._si(raw, unit, column, faults)
        raise_if(faults, self.file)
        return found

    def _si(self, raw: FloatArray, unit: str, column: Column, faults: list[Message]) -> FloatArray:
        """Every value in SI: units are straight lines, so two of them settle all."""
        try:
            low, one = self.units.to_si(0.0, unit), self.units.to_si(1.0, unit)
            return np.asarray(low + raw * (one - low), dtype=np.float64)
        except (ValueError, OverflowError) as error:
            faults.append(self.fault(f"has a unit that cannot be used: {error}", column.name, found=unit))
            return raw

    def _label(self, column: Column) -> list[str]:
        found = []
        for i, cell in enumerate(column.labels()):
            if isinstance(cell, Bad):
                raise refuse(self.file, f"{column.name} {cell.what}", found=cell.found, line=self.lines[i])
            found.append(f"{cell:.15g}" if isinstance(cell, float) else cell)
        return found

    def _groups(self, values: Mapping[str, FloatArray], labels: Mapping[str, list[str]]) -> list[npt.NDArray[np.int64]]:
        """The points of each trace: those of one part, lot and speed."""
        n = len(self.lines)
        if "part" in labels and "" in labels["part"]:
            at = self.lines[labels["part"].index("")]
            raise InputFault([self.fault("is empty", "part", at, allowed="the part's number in every line")])
        blank = [""] * n
        keys = list(zip(labels.get("part", blank), labels.get("lot", blank), values.get("speed", blank), strict=True))
        order: dict[tuple[object, ...], list[int]] = {}
        for i, key in enumerate(keys):
            order.setdefault(key, []).append(i)
        return [np.array(rows, dtype=np.int64) for rows in order.values()]

    def _one(
        self, rows: npt.NDArray[np.int64], values: Mapping[str, FloatArray], labels: Mapping[str, list[str]], part: str
    ) -> Trace:
        first = int(rows[0])
        named = {kind: of[first] for kind, of in labels.items()}
        time = values["time"][rows]
        if "cycle" in labels:
            time = continued(time, [labels["cycle"][i] for i in rows])
        x, f = values["displacement"][rows], values["force"][rows]
        out, pull = (-1.0 if flag else 1.0 for flag in (self.layout.displacement_in, self.layout.force_compression))
        return Trace(
            self.file, named.get("part", part), named.get("lot", ""), named.get("group", ""), named.get("gauge", ""),
            float(values["speed"][first]) if "speed" in values else None,
            time, out * x, pull * f, out * values["velocity"][rows] if "velocity" in values else None,
            float(values["temperature"][rows].mean()) if "temperature" in values else None,
            np.array(self.lines, dtype=np.int64)[rows], self.place,
        )  # fmt: skip


def continued(time: FloatArray, cycles: Sequence[str]) -> FloatArray:
    """Times that start anew with every cycle laid one behind the other, a usual step apart; others as they are."""
    change = np.array([a != b for a, b in zip(cycles[:-1], cycles[1:], strict=True)], dtype=np.bool_)
    step = np.diff(time)
    anew = np.flatnonzero(change & (step <= 0.0))
    if not len(anew):
        return time
    usual = float(np.median(step[step > 0.0])) if (step > 0.0).any() else 0.0
    jump = np.zeros(len(time))
    jump[anew + 1] = usual - step[anew]
    return np.asarray(time + np.cumsum(jump))


Convert = Callable[[Cell], float]
