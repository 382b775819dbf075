"""Many readings at once, from a Parquet file in the long form: one row a reading."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import repeat
from pathlib import Path
from typing import Any

import numpy as np

from firstoff.errors import InputFault, Message, counted, nearest
from firstoff.records.canonical import Row
from firstoff.sheets.units import QuantityError, allowed_units, lookup, same_dimension, to_si

NEEDED = ("part", "characteristic", "value")
OTHERS = ("unit", "lot", "group", "gauge", "temperature [degC]", "time", "person")
MOST = 20_000_000


def read_parquet(file: Path, units: Mapping[str, str], trial: int = 0) -> list[Row]:
    """Rows of the table `readings`, SI. Columns: part, characteristic, value, and as there are unit, lot, group, gauge,
    temperature [degC], time, person. `units`: characteristic -> the trade's unit, where the file gives none.

    Raises InputFault with every fault found.
    """
    import pyarrow as arrow
    import pyarrow.parquet as parquet

    try:
        table = parquet.read_table(file)
    except FileNotFoundError:
        raise InputFault([Message("does not exist", file=str(file))]) from None
    except (arrow.ArrowException, OSError, ValueError) as error:
        raise InputFault([Message("is no Parquet file that can be read", str(file), found=str(error)[:120])]) from error
    faults = [Message("has no column of this name", str(file), key=n) for n in NEEDED if n not in table.column_names]
    known = {*NEEDED, *OTHERS}
    faults += [
        Message("is no column of readings", str(file), key=n, nearest=nearest(n, known))
        for n in table.column_names
        if n not in known
    ]
    if not faults and not 0 < table.num_rows <= MOST:
        faults.append(Message("has no readings, or too many", str(file), found=f"{table.num_rows} rows"))
    if faults:
        raise InputFault(faults)
    names, which = _coded(table, "characteristic", file)
    said, units_of = _coded(table, "unit", file) if "unit" in table.column_names else ([""], np.zeros(len(which), int))
    values = _numbers(table, "value", file)
    si, shown = _converted(file, values, (names, which), (said, units_of), units)
    texts = {n: _texts(table, n, file) for n in ("part", "lot", "group", "gauge", "time", "person")}
    warm: Any = repeat(None)
    if "temperature [degC]" in table.column_names:
        warm = (_numbers(table, "temperature [degC]", file) + 273.15).tolist()
    characteristic = np.array(names, dtype=object)[which].tolist()
    lines = range(1, table.num_rows + 1)
    return list(
        zip(repeat(trial), texts["part"], texts["lot"], texts["group"], characteristic, si.tolist(), shown,
            texts["gauge"], warm, texts["time"], lines, repeat("value"), texts["person"])
    )  # fmt: skip


def _coded(table: Any, name: str, file: Path) -> tuple[list[str], np.ndarray[Any, np.dtype[np.int64]]]:
    """The different texts of a column, and which of them each row has."""
    import pyarrow as arrow

    column = table.column(name).combine_chunks()
    if column.null_count:
        raise InputFault([Message("has rows without a value", str(file), key=name, found=str(column.null_count))])
    try:
        coded = column.cast(arrow.string()).dictionary_encode()
    except arrow.ArrowException as error:
        raise InputFault([Message("is no column of texts", str(file), key=name)]) from error
    return coded.dictionary.to_pylist(), coded.indices.to_numpy().astype(np.int64)


def _numbers(table: Any, name: str, file: Path) -> np.ndarray[Any, np.dtype[np.float64]]:
    import pyarrow as arrow

    try:
        column = table.column(name).cast(arrow.float64())
    except arrow.ArrowException as error:
        raise InputFault([Message("is no column of numbers", str(file), key=name)]) from error
    values: np.ndarray[Any, np.dtype[np.float64]] = column.to_numpy()
    bad = np.flatnonzero(~np.isfinite(values))
    if len(bad):
        found = f"{counted(len(bad), 'row')}, the first is row {bad[0] + 1}"
        raise InputFault([Message("has rows without a finite number", str(file), key=name, found=found)])
    return values


def _texts(table: Any, name: str, file: Path) -> Any:
    import pyarrow as arrow

    if name not in table.column_names:
        if name == "person":
            return repeat(None)
        return repeat("")
    try:
        column = table.column(name).cast(arrow.string())
    except arrow.ArrowException as error:
        raise InputFault([Message("is no column of texts", str(file), key=name)]) from error
    if name == "part" and column.null_count:
        raise InputFault([Message("has rows without a part", str(file), key=name, found=str(column.null_count))])
    return column.fill_null("").to_pylist()


def _converted(
    file: Path, values: np.ndarray[Any, np.dtype[np.float64]], which: tuple[list[str], np.ndarray[Any, Any]],
    said: tuple[list[str], np.ndarray[Any, Any]], units: Mapping[str, str],
) -> tuple[np.ndarray[Any, np.dtype[np.float64]], list[str]]:  # fmt: skip
    """Values in SI and the unit each was read in; one conversion for each pair of characteristic and unit."""
    (names, name_of), (stated, unit_of) = which, said
    pair = name_of * len(stated) + unit_of
    present, pairs = np.unique(pair, return_inverse=True)
    factor, offset, shown, faults = [], [], [], []
    for code in present.tolist():
        name, unit = names[code // len(stated)], stated[code % len(stated)]
        if name not in units:
            faults.append(
                Message("is no characteristic of the sheet", str(file), key="characteristic", found=name,
                        nearest=nearest(name, units))
            )  # fmt: skip
            continue
        wanted = units[name].removesuffix(" abs")
        unit = unit or wanted
        try:
            fits = same_dimension(unit, wanted)
        except QuantityError as error:
            fits = False
            unit = error.found or unit
        if not fits:
            allowed = allowed_units(lookup(wanted))
            faults.append(Message(f"does not measure {name}", str(file), key="unit", found=unit, allowed=allowed))
            continue
        offset.append(to_si(0.0, unit))
        factor.append(to_si(1.0, unit) - offset[-1])
        shown.append(unit)
    if faults:
        raise InputFault(faults)
    si = values * np.array(factor)[pairs] + np.array(offset)[pairs]
    return si + 0.0, np.array(shown, dtype=object)[pairs].tolist()
