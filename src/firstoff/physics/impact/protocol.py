"""The published low-speed bumper protocol, as data."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from typing import Any, Final, NamedTuple

SI: Final = {"mph": 0.44704, "in": 0.0254, "min": 60.0, "1": 1.0, "": 1.0}  # exact by definition


class Fact(NamedTuple):
    """A number or truth value of the protocol as printed, its unit, and the section that says it."""

    value: float | bool
    unit: str
    where: str

    @property
    def si(self) -> float | bool:
        """In SI: m/s, m, s; a truth value or a count as it is."""
        return self.value if isinstance(self.value, bool) or self.unit in ("", "1") else self.value * SI[self.unit]


@cache
def _text() -> dict[str, Any]:
    text: dict[str, Any] = json.loads(files("firstoff.physics.impact").joinpath("data/part581.json").read_text("utf-8"))
    return text


def part_581() -> dict[str, Fact]:
    """Facts of 49 CFR part 581 by name. Source: the code's published text, see data/part581.json.

    For pendulum and barrier test of passenger motor vehicles; only the tests show that a vehicle meets the part.
    """
    return {name: Fact(**fact) for name, fact in _text()["facts"].items()}


def source() -> str:
    """Where the facts were read."""
    return str(_text()["source"])
