"""Speed of the records: a million readings taken in and verified, a part traced among a million and ten million.

Each database is filled and measured in a process of its own. Alternatives: rows inserted one at a time through
SQLAlchemy in one transaction, and rows fetched and hashed one at a time (both on a twentieth of the readings, times
twenty); a walk in Python that asks for the neighbours of one item at a time. The server is one of our own, with
`fsync = off`; the file is written as always, `synchronous = FULL`. The ten million parts are laid down by the server
itself, past the chain: only the query is measured there.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from bench.memory import watched

MANY = 1_000_000
PARTS = {"sqlite": 1_000_000, "postgresql": 10_000_000}
RACK, LOT, HEAT = 20, 500, 5000  # bars a rack, a blank lot, a coil heat
UNITS = {"rebound_0.52": "N", "friction": "N"}

LAY = f"""
INSERT INTO edges (entry, position, parent, child, how)
SELECT 0, i, 'rack:' || i / {RACK}, 'bar:' || i, 'carried' FROM generate_series(0, %(n)s - 1) i
UNION ALL SELECT 1, i, 'blank lot:' || i * {RACK} / {LOT}, 'rack:' || i, 'hung on'
  FROM generate_series(0, %(n)s / {RACK} - 1) i
UNION ALL SELECT 2, i, 'coil heat:' || i * {LOT} / {HEAT}, 'blank lot:' || i, 'cut from'
  FROM generate_series(0, %(n)s / {LOT} - 1) i
"""


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    start = time.perf_counter()
    found = work()
    return time.perf_counter() - start, found


def parquet_of(folder: Path, count: int) -> Path:
    """Readings of two characteristics on count / 2 parts."""
    import numpy as np
    import pyarrow as arrow
    import pyarrow.parquet as parquet

    rng = np.random.default_rng(1)
    i = np.arange(count)
    values = np.where(i % 2, rng.normal(23.0, 1.0, count), rng.normal(1340.0, 30.0, count))
    names = np.array(list(UNITS))[i % 2]
    table = arrow.table({
        "part": [f"P{k // 2}" for k in range(count)], "lot": [f"L{k // 5000}" for k in range(count)],
        "characteristic": names, "value": values, "gauge": ["damping rig 2"] * count,
        "temperature [degC]": np.full(count, 25.0),
    })  # fmt: skip
    file = folder / "readings.parquet"
    parquet.write_table(table, file)
    return file


def measured(database: str, what: str) -> None:
    """Fill, measure, and print the seconds as JSON."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["FIRSTOFF_CONFIG"] = folder
        if database == "sqlite":
            print(json.dumps(WORK[what](f"{folder}/records.db", Path(folder), database)))
            return
        from tests.records.server import running

        with running() as server:
            print(json.dumps(WORK[what](server.new(), Path(folder), database)))


def _intake(place: str, folder: Path, database: str) -> dict[str, float]:
    from sqlalchemy import insert, text

    from firstoff.records import Batch, append, head, open_records, read_parquet, signer, verify
    from firstoff.records.canonical import leaf
    from firstoff.records.merkle import root_of
    from firstoff.records.schema import columns_of, tables

    file = parquet_of(folder, MANY)
    with open_records(place) as records:
        who = signer("A. Miller")

        def take_in() -> None:
            batch = Batch("readings")
            batch.add_rows("readings", read_parquet(file, UNITS))
            append(records, batch, who)

        taken, _ = timed(take_in)
        checked, found = timed(lambda: verify(records, head(records)))
        assert found.sound and found.rows == MANY + 1

        def fetched() -> None:
            one = text("SELECT * FROM readings WHERE entry = 1 AND position = :i")
            with records.reading() as connection:
                found = (connection.execute(one, {"i": i}).one() for i in range(MANY // 20))
                root_of([leaf("readings", row[2:]) for row in found])

        by_row, _ = timed(fetched)
        one, names = read_parquet(parquet_of(folder, MANY // 20), UNITS), columns_of("readings")
        single = insert(tables["readings"])

        def one_at_a_time() -> None:
            with records.writing() as connection:
                for i, row in enumerate(one):
                    leaf("readings", row)
                    connection.execute(single, dict(zip(names, (99, i, *row), strict=True)))

        inserted, _ = timed(one_at_a_time)
    return {"intake": taken, "verify": checked, "by_row": 20 * by_row, "one_at_a_time": 20 * inserted}


def _trace(place: str, folder: Path, database: str) -> dict[str, float]:
    from sqlalchemy import text

    from firstoff.records import Batch, append, open_records, signer, trace_down, trace_up

    n = PARTS[database]
    with open_records(place) as records:
        if records.on_server:
            with records.engine.begin() as connection:
                for name in ("edges_down", "edges_up"):
                    connection.execute(text(f"DROP INDEX {name}"))
                connection.exec_driver_sql(LAY, {"n": n})
                connection.execute(text("CREATE INDEX edges_down ON edges (parent, child)"))
                connection.execute(text("CREATE INDEX edges_up ON edges (child, parent)"))
            with records.engine.connect() as connection:
                connection.execution_options(isolation_level="AUTOCOMMIT").execute(text("VACUUM ANALYZE edges"))
        else:
            batch = Batch("genealogy")
            batch.add_rows("edges", [(f"rack:{i // RACK}", f"bar:{i}", "carried", None) for i in range(n)])
            lots = [(f"blank lot:{i * RACK // LOT}", f"rack:{i}", "hung on", None) for i in range(n // RACK)]
            heats = [(f"coil heat:{i * LOT // HEAT}", f"blank lot:{i}", "cut from", None) for i in range(n // LOT)]
            batch.add_rows("edges", lots + heats)
            append(records, batch, signer("A. Miller"))
        start, part = f"coil heat:{n // HEAT // 2}", f"bar:{n // 3}"
        trace_down(records, f"coil heat:{n // HEAT // 3}")  # a first look warms neither this heat nor that part
        down, found = timed(lambda: trace_down(records, start))
        up, above = timed(lambda: trace_up(records, part))
        walked, seen = timed(lambda: _walk(records, start))
        assert len(found.items) == HEAT + HEAT // RACK + HEAT // LOT and len(above.items) == 3
        assert seen == set(found.items)
    return {"down": down, "up": up, "walk": walked}


def _walk(records: Any, start: str) -> set[str]:
    """One question for each item, as a program would ask without the recursive query."""
    from sqlalchemy import text

    seen: set[str] = set()
    ends = [start]
    with records.reading() as connection:
        while ends:
            rows = connection.execute(text("SELECT child FROM edges WHERE parent = :p"), {"p": ends.pop()}).scalars()
            new = set(rows) - seen
            seen |= new
            ends += new
    return seen


WORK: dict[str, Callable[[str, Path, str], dict[str, float]]] = {"intake": _intake, "trace": _trace}
CODE = "import sys; from bench.records import measured; measured(*sys.argv[1:])"


def rows() -> list[dict[str, Any]]:
    from tests.records.server import binaries

    found, databases = [], {"sqlite": "SQLite", "postgresql": "PostgreSQL"}
    try:
        binaries()
    except RuntimeError as missing:
        print(f"records on PostgreSQL left out: {missing}", file=sys.stderr)
        del databases["postgresql"]
    for database, title in databases.items():
        text, peak = watched(CODE, database, "intake")
        took = json.loads(text)
        found += [
            _row(f"records-intake-{database}", f"1,000,000 readings from Parquet, hashed, signed, into {title}",
                 took["intake"], "one row at a time", took["one_at_a_time"], peak),
            _row(f"records-verify-{database}", f"verify these, every row, {title}", took["verify"],
                 "a query a row", took["by_row"], peak),
        ]  # fmt: skip
        text, peak = watched(CODE, database, "trace")
        took, parts = json.loads(text), f"{PARTS[database]:,}"
        found += [
            _row(f"records-trace-down-{database}", f"a coil heat's 5,260 items among {parts} parts, {title}",
                 took["down"], "walk in Python, a query an item", took["walk"], peak),
            _row(f"records-trace-up-{database}", f"a part's heat among {parts} parts, {title}", took["up"], "", None,
                 peak),
        ]  # fmt: skip
    return found


def _row(name: str, load: str, seconds: float, alternative: str, its: float | None, peak: float) -> dict[str, Any]:
    return {"id": name, "load": load, "seconds": seconds, "alternative": alternative, "alternative_seconds": its,
            "ratio": its / seconds if its else None, "error": 0.0, "peak_pss_mb": peak}  # fmt: skip


if __name__ == "__main__":
    for row in rows() if len(sys.argv) < 3 else []:
        print(json.dumps(row))
    if len(sys.argv) >= 3:
        measured(*sys.argv[1:3])
