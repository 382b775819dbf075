"""Backup, restore and export. A backup is a records file by itself (SQLite), wherever the records lie."""

from __future__ import annotations

import base64
import csv
import errno
import json
import os
import secrets
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Any

from firstoff.errors import InputFault, Message
from firstoff.records.append import Head, head
from firstoff.records.failures import told
from firstoff.records.scan import BLOCK, MANY, put, stream
from firstoff.records.schema import CONTENT, columns_of, metadata
from firstoff.records.store import Records, open_records
from firstoff.records.verify import verify

FORMATS = ("csv", "json", "parquet")
ORDER = {"entries": ("number",), "leaves": ("entry", "chunk")}
_TYPES = {"text": "string", "real": "float64", "whole": "int64", "bytes": "binary"}


def _columns(table: str) -> tuple[str, ...]:
    return columns_of(table) if table in CONTENT else tuple(c.name for c in metadata.tables[table].columns)


def copy_all(source: Records, target: Records) -> None:
    """Every row of one into the other, empty one; in one view and one transaction. InputFault when it is not empty."""
    if head(target).number:
        raise InputFault([Message("holds records already; nothing was written over them", file=target.place)])
    with source.reading() as reading, told(target.place), target.writing() as writing:
        for table in ("entries", "leaves", *CONTENT):
            put(writing, table, _columns(table), stream(reading, table, _columns(table)), MANY)


def backup(records: Records, file: Path) -> Head:
    """Copy the records into a new file, and verify the copy; gives its head. A file that is there is never replaced."""
    if file.exists():
        raise InputFault([Message("is there already; no backup was made", file=str(file), allowed="a new name")])
    part = file.with_name(f".{file.name}.{secrets.token_hex(4)}")
    try:
        with open_records(part) as copy:
            copy_all(records, copy)
            found = verify(copy)
        if not found.sound:
            what = f"the records are not sound, so neither is a copy: {found.findings[0].as_text()}"
            raise InputFault([Message(what, file=records.place, allowed="`firstoff records verify` first")])
        os.replace(part, file)
    finally:
        for rest in (part, Path(f"{part}-wal"), Path(f"{part}-shm")):
            rest.unlink(missing_ok=True)
    return found.head


def restore(file: Path, place: str | Path) -> Head:
    """Put a backup where no records are yet, after verifying it; gives the head."""
    with open_records(file, create=False) as source:
        found = verify(source)
        if not found.sound:
            raise InputFault([Message(f.as_text(), file=str(file)) for f in found.findings[:20]])
        with open_records(place) as target:
            copy_all(source, target)
            return head(target)


def export(records: Records, folder: Path, form: str) -> list[Path]:
    """Every table as one file of the form `csv`, `json` or `parquet`. Files that are there are not written over."""
    names = ("entries", *CONTENT)
    files = [folder / f"{name}.{form}" for name in names]
    there = [f for f in files if f.exists()]
    if there:
        raise InputFault([Message("is there already; nothing was exported", file=str(there[0]))])
    folder.mkdir(parents=True, exist_ok=True)
    writers = {"csv": _csv, "json": _json, "parquet": _parquet}
    with records.reading() as connection:
        for name, file in zip(names, files, strict=True):
            rows = stream(connection, name, _columns(name), order=ORDER.get(name, ("entry", "position")))
            part = file.with_name(f".{file.name}.part")
            try:
                writers[form](part, name, rows)
                os.replace(part, file)
            except OSError as error:
                raise OSError(error.errno or errno.EIO, error.strerror or str(error), str(file)) from error
            finally:
                part.unlink(missing_ok=True)
    return files


def _plain(value: Any) -> Any:
    return base64.b64encode(value).decode("ascii") if isinstance(value, bytes) else value


def _csv(file: Path, table: str, rows: Iterator[Sequence[Any]]) -> None:
    """Bytes as base64, an empty value as an empty cell."""
    with file.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(_columns(table))
        bytes_in = "bytes" in CONTENT.get(table, {}).values()
        writer.writerows(map(_plain, row) for row in rows) if bytes_in else writer.writerows(rows)


def _json(file: Path, table: str, rows: Iterator[Sequence[Any]]) -> None:
    """A list of objects, one a line; bytes as base64."""
    names = _columns(table)
    with file.open("w", encoding="utf-8") as out:
        out.write("[")
        for i, row in enumerate(rows):
            pairs = dict(zip(names, map(_plain, row), strict=True))
            out.write((",\n" if i else "\n") + json.dumps(pairs, ensure_ascii=False, allow_nan=False))
        out.write("\n]\n")


def _parquet(file: Path, table: str, rows: Iterator[Sequence[Any]]) -> None:
    import pyarrow as arrow
    import pyarrow.parquet as parquet

    kinds = {"entry": "whole", "position": "whole", "number": "whole", "row_count": "whole", **CONTENT.get(table, {})}
    fields = [(name, getattr(arrow, _TYPES[kinds.get(name, "text")])()) for name in _columns(table)]
    schema = arrow.schema(fields)
    with parquet.ParquetWriter(file, schema) as writer:
        while block := list(islice(rows, BLOCK)):
            columns = [arrow.array(c, f.type) for c, f in zip(zip(*block, strict=True), schema, strict=True)]
            writer.write_table(arrow.Table.from_arrays(columns, schema=schema))
