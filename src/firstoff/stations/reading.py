"""What a family reads from the sheets beside its stations' parameters: a customer's table, a drawing, equipment."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

from firstoff.chain.station import Characteristic


class SheetInReading(Protocol):
    """One sheet while it is read: its settled values, and where faults are noted."""

    @property
    def settled(self) -> Mapping[str, Any]: ...

    @property
    def folder(self) -> Path:
        """Where the files that it names lie."""
        ...

    def fault(self, section: str, key: str, what: str, **more: str) -> None:
        """Note a fault at a key; `section` as `damping/0` for the first entry of a repeated one."""
        ...

    def place(self, section: str, key: str) -> str:
        """`file:line` of a key that stands in the sheet."""
        ...

    def attempt(self, section: str, key: str, read_it: Callable[[], Any]) -> Any:
        """What `read_it` gives, or None with the fault noted."""
        ...


@dataclass(frozen=True)
class Drawn:
    """What was read: characteristics with limits, and what the stations are made for."""

    characteristics: Mapping[str, Characteristic] = field(default_factory=dict)
    speeds: tuple[float, ...] = ()  # of a customer's table, m/s, ascending, positive
    origin: Mapping[str, str] = field(default_factory=dict)  # what a message may name -> file:line
    drawing: Any = None  # of the family's own kind; None while the sheet does not draw the part
