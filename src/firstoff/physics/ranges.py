"""Ranges that a formula holds in, checked in words a person can use."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.float64] | float


def within(
    what: str,
    value: Numbers,
    *,
    above: float = -math.inf,
    least: float = -math.inf,
    most: float = math.inf,
    below: float = math.inf,
) -> FloatArray:
    """`value` as an array of finite numbers with above < value < below and least <= value <= most.

    Any shape. ValueError names `what`, the bounds and the first number outside them.
    """
    array = np.asarray(value, dtype=np.float64)
    good = np.isfinite(array) & (array > above) & (array < below) & (array >= least) & (array <= most)
    if not np.all(good):
        said = [
            f"{word} {bound:g}"
            for word, bound in (("above", above), ("at least", least), ("at most", most), ("below", below))
            if math.isfinite(bound)
        ]
        bounds = " and ".join(said) or "a finite number"
        raise ValueError(f"{what} must be {bounds}, not {array[~good].ravel()[0]:g}")
    return array


def positive(what: str, value: Numbers) -> FloatArray:
    """`value` as an array of finite numbers above 0; ValueError names `what`."""
    return within(what, value, above=0.0)


def not_negative(what: str, value: Numbers) -> FloatArray:
    """`value` as an array of finite numbers of 0 or more; ValueError names `what`."""
    return within(what, value, least=0.0)
