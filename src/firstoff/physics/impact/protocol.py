"""Published low-speed bumper protocols, as data."""

from __future__ import annotations

import json
import math
from functools import cache
from importlib.resources import files
from typing import Any, Final, NamedTuple

SI: Final = {"mph": 0.44704, "in": 0.0254, "min": 60.0, "km/h": 1.0 / 3.6, "mm": 1e-3, "deg": math.pi / 180.0,
             "%": 0.01}  # fmt: skip
PROTOCOLS: Final = ("part581", "r42", "insurers")


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
def _text(name: str) -> dict[str, Any]:
    folder = files("firstoff.physics.impact")
    text: dict[str, Any] = json.loads(folder.joinpath(f"data/{name}.json").read_text("utf-8"))
    return text


def facts(name: str) -> dict[str, Fact]:
    """Facts of a protocol by name. KeyError for a protocol that is not here; only tests show that a vehicle meets it.

    name: one of `PROTOCOLS`. Source: the file says where each fact was read, or that it is from memory.
    """
    if name not in PROTOCOLS:
        raise KeyError(name)
    return {key: Fact(**fact) for key, fact in _text(name)["facts"].items()}


def part_581() -> dict[str, Fact]:
    """Facts of 49 CFR part 581 by name. Source: the code's published text, see data/part581.json.

    For pendulum and barrier test of passenger motor vehicles; only the tests show that a vehicle meets the part.
    """
    return facts("part581")


def source(name: str = "part581") -> str:
    """Where the facts of a protocol were read."""
    return str(_text(name)["source"])


def measures(name: str) -> str:
    """What the tests of a protocol look at."""
    return str(_text(name)["measures"])


def speed(name: str, kind: str) -> float | None:
    """Speed [m/s] of a protocol's `pendulum`, `corner` (by a pendulum) or `barrier` hit; None where it has none.

    Source: as `facts`.
    """
    keys = {"pendulum": ("pendulum_longitudinal_speed_mph", "longitudinal_speed"),
            "corner": ("pendulum_corner_speed_mph", "corner_speed"),
            "barrier": ("barrier_speed_mph", "barrier_speed")}  # fmt: skip
    known = facts(name)
    return next((float(known[key].si) for key in keys.get(kind, ()) if key in known), None)
