"""Inputs of the damper and ride calculations: numbers or lists of numbers, checked by name and range."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


def number(key: str, value: Any, least: float = -math.inf, above: float = -math.inf, most: float = math.inf) -> float:
    """One finite number in least..most and above `above`; ValueError names the key."""
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise ValueError(f"{key} must be a finite number, not {value!r}")
    if not (least <= value <= most and value > above):
        bounds = [f"{text} {bound:g}" for text, bound in (("at least", least), ("above", above), ("at most", most))
                  if math.isfinite(bound)]  # fmt: skip
        raise ValueError(f"{key} must be {' and '.join(bounds)}, not {value:g}")
    return float(value)


def scalar(given: Mapping[str, Any], key: str, default: float | None = None, **bounds: float) -> float:
    """The number under `key`, or the default when it is left out."""
    return default if default is not None and key not in given else number(key, given[key], **bounds)


def numbers(given: Mapping[str, Any], key: str, **bounds: float) -> FloatArray:
    """The number (shape ()) or list of numbers (shape (n,)) under `key`."""
    value = given[key]
    if isinstance(value, (list, tuple)):
        if not value:
            raise ValueError(f"{key} must not be an empty list")
        return np.array([number(f"{key}[{i}]", item, **bounds) for i, item in enumerate(value)])
    return np.array(number(key, value, **bounds))


def same_length(arrays: Mapping[str, FloatArray]) -> None:
    """ValueError unless all lists among the inputs have one length; single numbers go with any."""
    lengths = {key: array.size for key, array in arrays.items() if array.ndim}
    if len(set(lengths.values())) > 1:
        told = ", ".join(f"{key} has {length}" for key, length in lengths.items())
        raise ValueError(f"lists of inputs must have the same length: {told}")


def choice(given: Mapping[str, Any], key: str, allowed: Iterable[str]) -> str:
    """The text under `key`, one of `allowed`."""
    names = list(allowed)
    if given[key] not in names:
        raise ValueError(f"{key} {given[key]!r} is unknown; allowed: {', '.join(map(repr, names))}")
    return str(given[key])


def plain(key: str, value: Any) -> float | list[float]:
    """A result as Python numbers; ValueError when it is too large to be one."""
    array = np.asarray(value, dtype=np.float64)
    if not np.isfinite(array).all():
        raise ValueError(f"{key} is not a finite number for these inputs")
    return [float(item) for item in array] if array.ndim else float(array)
