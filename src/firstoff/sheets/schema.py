"""What a sheet may hold: sections and their keys, declared by whoever reads them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Type = Literal["quantity", "text", "integer", "number", "boolean", "date", "quantities", "rate", "table"]


@dataclass(frozen=True)
class Key:
    """One key of a section. A default is documentation here: whoever asked for the key applies it."""

    name: str
    unit: str | None  # the trade's unit, which sets the dimension; None when it is not a quantity
    what: str  # one line for the engineer
    required: bool = False
    default: object = None
    low: str | None = None  # least allowed nominal, as a quantity text
    high: str | None = None
    pressure: bool = False  # gauge or absolute must be stated
    choices: tuple[str, ...] = ()  # of a text
    type: Type = "quantity"  # quantities: a list of quantity texts; rate: so many per thousand; table: names and texts

    def __post_init__(self) -> None:
        if self.type in ("quantity", "quantities") and self.unit is None:
            raise ValueError(f"key {self.name} is a quantity without a unit")


@dataclass(frozen=True)
class Section:
    """One section: `[name]`, several `[[name]]`, or `[name.anything]` where each is checked with the same keys.

    A dotted name stands for a section inside another. The empty name holds the keys above the first section.
    """

    name: str
    keys: tuple[Key, ...]
    what: str
    required: bool = False
    repeated: bool = False
    open: bool = False

    def __post_init__(self) -> None:
        if self.repeated and self.open:
            raise ValueError(f"section {self.name} is both repeated and open")

    @property
    def path(self) -> tuple[str, ...]:
        return tuple(self.name.split(".")) if self.name else ()

    @property
    def header(self) -> str:
        """How its header is written: `[bath]`, `[[trial]]`, `[characteristics.NAME]`."""
        if not self.name:
            return "the top of the sheet"
        return f"[[{self.name}]]" if self.repeated else f"[{self.name}.NAME]" if self.open else f"[{self.name}]"
