"""A batch: rows of several tables that are recorded together, or not at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any

from firstoff.records.canonical import Row, leaves_of, settled
from firstoff.records.schema import CONTENT


@dataclass
class Batch:
    """Rows in the order in which they were added; their positions count from zero."""

    kind: str  # `launch`, `readings`, `genealogy`, `decision` ...
    note: str = ""
    parts: list[tuple[str, int, list[Row]]] = field(default_factory=list)  # table, first position, rows
    count: int = 0

    def add(self, table: str, **values: Any) -> int:
        """Add one row; what is not named stays empty. Gives its position."""
        unknown = set(values) - set(CONTENT[table])
        if unknown:
            raise ValueError(f"{table} has no {', '.join(sorted(unknown))}")
        return self.add_rows(table, [tuple(values.get(name) for name in CONTENT[table])])

    def add_rows(self, table: str, rows: Sequence[Row]) -> int:
        """Add many rows, each with every value of the table. Gives the position of the first."""
        first, made = self.count, settled(table, rows)
        if self.parts and self.parts[-1][0] == table:
            self.parts[-1][2].extend(made)
        else:
            self.parts.append((table, first, made))
        self.count += len(made)
        return first

    def add_text(self, name: str, role: str, content: bytes) -> str:
        """Add a file as it is, and give its digest."""
        digest = sha256(content).hexdigest()
        self.add("texts", sha256=digest, name=name, role=role, content=content)
        return digest

    def leaves(self) -> list[bytes]:
        return [leaf for table, _, rows in self.parts for leaf in leaves_of(table, rows)]
