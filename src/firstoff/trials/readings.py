"""Readings of first parts: what was measured, on which part, with which gauge; read from CSV or xlsx."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from firstoff.errors import Message
from firstoff.trials import readings_csv, readings_xlsx
from firstoff.trials.columns import Convert, Header, SameDimension, Units
from firstoff.trials.table import Table, load, raise_if, refuse


@dataclass(frozen=True)
class Reading:
    """One measured value, SI."""

    characteristic: str
    value: float
    part: str
    lot: str = ""
    group: str = ""  # head, cavity, rack position
    gauge: str = ""
    temperature: float | None = None  # K
    time: str = ""
    line: int = 0  # of the file it was read from
    column: str = ""  # its header there
    unit: str = ""  # in which it was read
    trace: str = ""  # files of traces that the row names
    u: float = 0.0  # standard uncertainty beside the gauge's: the scatter between the cycles of its trace
    run: str = ""  # the trace it was reduced from; empty when it was read off


@dataclass(frozen=True)
class Run:
    """One trace of one part, reduced; SI."""

    lot: str
    part: str
    run: str  # as its readings name it
    file: str
    title: str  # `0.52 m/s`, `crawling at 2 mm/s`
    crawling: bool
    speed: float  # the sheet's, of this run
    cycles: int
    period: float
    noise: float  # standard deviation of one sample of force
    drift: float  # of the mean force, first cycle to last
    names: tuple[str, ...]  # of the readings it gave
    covariance: npt.NDArray[np.float64]  # (k, k) of their noise: the scatter between cycles
    travel: npt.NDArray[np.float64]  # of the mean cycle, closed: last point = first
    velocity: npt.NDArray[np.float64]
    force: npt.NDArray[np.float64]
    temperature: float | None = None  # K


@dataclass(frozen=True)
class Trial:
    """A set of readings, and what is to be said about how they were read."""

    readings: tuple[Reading, ...]
    file: str = ""
    messages: tuple[Message, ...] = ()
    named: tuple[Reading, ...] = ()  # rows that name files of traces, without a value
    runs: tuple[Run, ...] = ()  # the traces that readings were reduced from


def read(
    path: str | os.PathLike[str],
    characteristics: Mapping[str, str],
    convert: Convert | None = None,
    same_dimension: SameDimension | None = None,
    sheet: str | None = None,
) -> Trial:
    """The readings in a CSV or xlsx file, in SI.

    Wide form: one row per part, a column `name [unit]` per characteristic. Long form: columns part, characteristic,
    value, unit. Both may have lot, group, gauge, temperature [degC] and time. `characteristics`: name -> the trade's
    unit; any unit of its dimension is taken. `sheet`: of a workbook, the first when None.
    Raises InputFault with every fault found.
    """
    from firstoff.trials.rows import interpret

    if convert is None or same_dimension is None:
        from firstoff.sheets import units as known_units

        convert = known_units.to_si if convert is None else convert
        same_dimension = known_units.same_dimension if same_dimension is None else same_dimension
    header = Header(characteristics, Units(convert, same_dimension))
    table = _table(Path(path), header, sheet)
    columns, faults = header.read(table.header, table.file, table.header_line)
    raise_if(faults, table.file)
    readings, named, faults, remarks = interpret(table, columns, header)
    raise_if(faults, table.file)
    if not readings and not named:
        raise refuse(table.file, "has no readings", allowed="at least one value under the header")
    return Trial(tuple(readings), table.file, (*table.messages, *remarks), tuple(named))


def _table(path: Path, header: Header, sheet: str | None) -> Table:
    data, file = load(path), str(path)
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise refuse(file, "is an old or an encrypted workbook", allowed="an xlsx workbook without password, or CSV")
    if data.startswith(b"PK\x03\x04") or path.suffix.lower() in (".xlsx", ".xlsm"):
        return readings_xlsx.read_table(data, file, sheet)
    if sheet is not None:
        raise refuse(file, "is a text file and has no sheets", found=sheet)
    return readings_csv.read_table(data, file, header.known)
