"""What a check of the records finds wrong, entry by entry and row by row."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any, Literal

from firstoff.records.append import Head

Kind = Literal["altered", "removed", "reordered", "replayed", "added", "unsigned", "other head", "damaged"]


@dataclass(frozen=True)
class Finding:
    """One thing that is not as it was recorded."""

    kind: Kind
    what: str  # one sentence
    entry: int | None = None
    row: int | None = None  # position in the entry, from 0
    table: str = ""

    def as_text(self) -> str:
        place = f"entry {self.entry}" if self.entry is not None else "records"
        if self.row is not None:
            place += f", row {self.row}" + (f" ({self.table})" if self.table else "")
        return f"{place}: {self.kind}: {self.what}"


@dataclass(frozen=True)
class Verification:
    """What was checked, and everything that is wrong."""

    entries: int
    rows: int
    head: Head
    findings: tuple[Finding, ...] = ()
    remarks: tuple[str, ...] = field(default=())  # no proof of tampering, and yet to be looked at

    @property
    def sound(self) -> bool:
        return not self.findings

    def as_dict(self) -> dict[str, Any]:
        return {
            "sound": self.sound,
            "entries": self.entries,
            "rows": self.rows,
            "head": str(self.head),
            "findings": [asdict(f) for f in self.findings],
            "remarks": list(self.remarks),
        }
