"""The columns of a Parquet file of traces: numbers as they are, texts to be read like cells."""

from __future__ import annotations

import io
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from firstoff.trials.cells import Bad, Cell, tidy
from firstoff.trials.table import refuse

FloatArray = npt.NDArray[np.float64]
MOST_POINTS = 2_000_000
MOST_COLUMNS = 200


@dataclass(frozen=True)
class Column:
    """One column: cells of a text file, or an array of numbers with NaN where there is none."""

    name: str
    cells: Sequence[Cell] | FloatArray
    unit: str = ""  # where the file itself fixes it

    @property
    def texts(self) -> Sequence[Cell]:
        """Cells that are still to be read."""
        return () if isinstance(self.cells, np.ndarray) else self.cells

    def numbers(self, read: Callable[[Cell], float]) -> tuple[FloatArray, str]:
        """Every cell as a number, NaN for a bad one, and what is wrong with the first bad one."""
        if isinstance(self.cells, np.ndarray):
            return self.cells, "is no finite number"
        found, bad = np.empty(len(self.cells)), ""
        for i, cell in enumerate(self.cells):
            try:
                found[i] = read(cell)
            except ValueError as error:
                found[i] = math.nan
                bad = bad or ("is empty" if cell == "" else str(error))
        return found, bad

    def labels(self) -> Sequence[Cell]:
        return [float(x) for x in self.cells] if isinstance(self.cells, np.ndarray) else self.cells

    def shown(self, at: int) -> str:
        cell = self.cells[at]
        text = cell.found if isinstance(cell, Bad) else str(cell)
        return text if len(text) <= 40 else text[:37] + "..."


def columns(data: bytes, file: str) -> tuple[list[Column], list[int], str, bool]:
    """Columns, row numbers from 1, what a row is called, and that no comma is likely. InputFault when unreadable."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        whole = pq.ParquetFile(io.BytesIO(data))
        rows, wide = whole.metadata.num_rows, whole.metadata.num_columns
        if rows > MOST_POINTS or wide > MOST_COLUMNS:
            raise refuse(file, "has too many points or columns", found=f"{rows} rows, {wide} columns",
                         allowed=f"up to {MOST_POINTS} rows and {MOST_COLUMNS} columns")  # fmt: skip
        table = whole.read()
        found = [_column(pa, name, table.column(i)) for i, name in enumerate(table.column_names)]
    except (pa.ArrowException, OSError, ValueError, TypeError, OverflowError, MemoryError) as error:
        raise refuse(
            file, "cannot be read as Parquet", found=str(error).splitlines()[0] if str(error) else ""
        ) from None
    return found, list(range(1, table.num_rows + 1)), "row", False


def _column(pa: Any, name: str, values: Any) -> Column:
    kind = values.type
    if pa.types.is_dictionary(kind):
        values = values.cast(kind.value_type)
        kind = values.type
    if pa.types.is_timestamp(kind) or pa.types.is_duration(kind):
        per = {"s": 1.0, "ms": 1e3, "us": 1e6, "ns": 1e9}[kind.unit]
        whole = values.cast(pa.int64())
        first = next((v for v in whole.to_pylist() if v is not None), 0)
        since = [math.nan if v is None else (v - first) / per for v in whole.to_pylist()]
        return Column(name, np.array(since, dtype=np.float64), "s")
    if pa.types.is_floating(kind) or pa.types.is_integer(kind) or pa.types.is_decimal(kind):
        plain = values.cast(pa.float64(), safe=False)
        return Column(name, np.array(plain.to_numpy(zero_copy_only=False) if hasattr(plain, "chunks") is False
                                     else plain.to_numpy(), dtype=np.float64))  # fmt: skip
    texts = ["" if v is None else tidy(str(v)) for v in values.to_pylist()]
    return Column(name, texts)
