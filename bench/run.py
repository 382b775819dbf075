"""`make bench`: every benchmark, as a table and as build/bench.json.

Ratios count: alternative seconds over our seconds, at equal measured error, in the same run of the same machine.
"""

from __future__ import annotations

import json
from pathlib import Path

from bench import (
    board,
    chain,
    crane,
    dynamic,
    explain,
    forming,
    hits,
    impact,
    plating,
    plating_field,
    prove,
    quasi_static,
    records,
    valve_choice,
)
from firstoff.report.tables import number, table

BUILD = Path(__file__).parents[1] / "build"


def main() -> None:
    parts = (
        quasi_static, dynamic, chain, forming, impact, hits, plating, plating_field, explain, prove, crane,
        valve_choice, records, board,
    )  # fmt: skip
    rows = [row for part in parts for row in part.rows()]
    BUILD.mkdir(exist_ok=True)
    (BUILD / "bench.json").write_text(json.dumps(rows, indent=1, allow_nan=False) + "\n", "utf-8")
    heads = ("id", "load", "seconds", "alternative", "its seconds", "ratio", "error", "peak PSS [MB]")
    keys = ("id", "load", "seconds", "alternative", "alternative_seconds", "ratio", "error", "peak_pss_mb")
    print(table(heads, [[number(r[k], 3) if isinstance(r[k], float) else r[k] for k in keys] for r in rows], width=150))


if __name__ == "__main__":
    main()
