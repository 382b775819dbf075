"""Refuses numbers a formula cannot take, in words that name the input."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

LARGEST = 1e100  # its square and cube are still numbers
NEAREST = 1e-12  # closer to 0 or 1 than this, a share has no digits left


def real(name: str, value: Any, *, above: float = -math.inf, below: float = math.inf) -> float:
    """`value` as a finite float with above < value < below. Raises ValueError naming `name`."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"{name} must be a number, not {value!r}")
    try:
        number = float(value)
    except OverflowError:
        raise ValueError(f"{name} is too large") from None
    if not math.isfinite(number):
        raise ValueError(f"{name} must be a finite number, not {value!r}")
    if abs(number) > LARGEST:
        raise ValueError(f"{name} is too large: {number:g}")
    if not above < number < below:
        if math.isinf(below):
            raise ValueError(f"{name} must be above {above:g}, not {number:g}")
        raise ValueError(f"{name} must lie between {above:g} and {below:g}, not {number:g}")
    return number


def not_negative(name: str, value: Any) -> float:
    """`value` as a finite float of 0 or more. Raises ValueError naming `name`."""
    number = real(name, value)
    if number < 0:
        raise ValueError(f"{name} must not be negative, not {number:g}")
    return number


def share(name: str, value: Any) -> float:
    """`value` as a share strictly between 0 and 1, not nearer to either than 1e-12. ValueError naming `name`."""
    number = real(name, value, above=0.0, below=1.0)
    if not NEAREST <= number <= 1.0 - NEAREST:
        raise ValueError(f"{name} is too near 0 or 1: {number!r}")
    return number


def whole(name: str, value: Any, low: int, high: int) -> int:
    """`value` as a whole number, low <= value <= high. Raises ValueError naming `name`."""
    number = real(name, value)
    if number != int(number):
        raise ValueError(f"{name} must be a whole number, not {number:g}")
    if not low <= number <= high:
        raise ValueError(f"{name} must lie between {low} and {high}, not {number:g}")
    return int(number)


def sequence(name: str, value: Any, most: int = 1000) -> Sequence[Any]:
    """`value` as a list with 1 to `most` entries. Raises ValueError naming `name`."""
    if not isinstance(value, list | tuple) or not 1 <= len(value) <= most:
        raise ValueError(f"{name} must be a list of 1 to {most} entries")
    return value


def ordered(low_name: str, low: float | None, high_name: str, high: float | None) -> None:
    """At least one limit, and the low one below the high one. Raises ValueError naming both."""
    if low is None and high is None:
        raise ValueError(f"{low_name} or {high_name} must be given")
    if low is not None and high is not None and low >= high:
        raise ValueError(f"{low_name} ({low:g}) must be below {high_name} ({high:g})")
