"""Builds before the first station: a column for every parameter, drawn by build number."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.special import ndtr, ndtri

from firstoff.chain.station import Columns, FloatArray, Value
from firstoff.errors import InputFault, Message
from firstoff.methods import sobol
from firstoff.sheets.spread import Spread


def sample(
    values: Sequence[Value],
    start: int,
    stop: int,
    seed: int,
    replicate: int = 0,
    parts_per_lot: int | None = None,
) -> Columns:
    """Columns of the builds `start` to `stop - 1`: value = nominal + lot offset + part deviation.

    The point index of the scrambled Sobol sequence is the build number, so a build is the same in any chunk.

    values: the parameters, SI; a value without spread gives a constant column and takes no dimension.
    parts_per_lot: None draws every build from a lot of its own (the running plant); k >= 1 gives the builds of one lot
    (build // k) one common offset; k of at least the number of builds is a single lot. seed, replicate: each pair is an
    independent scramble. Returns name -> (stop - start,). Raises InputFault for a doubled name, a negative spread, too
    many scattering values for the sequence, or an impossible range of builds.

    Source of the method: Owen (2013), Monte Carlo theory, methods and examples, ch. 17 (randomised quasi-Monte Carlo).
    """
    if parts_per_lot is not None and parts_per_lot < 1:
        raise InputFault([Message("parts per lot must be 1 or more", found=str(parts_per_lot))])
    dims = dimensions(values)
    lots = sum(scatters(value.lot) for value in values)
    try:
        u = sobol.points(dims, start, stop, seed, replicate)
        if parts_per_lot is not None and parts_per_lot > 1 and lots and stop > start:
            # the lot takes its own number as point index, in dimensions that no part deviation uses
            lot_of_build = np.arange(start, stop) // parts_per_lot
            first = int(lot_of_build[0])
            of_lots = sobol.points(dims, first, int(lot_of_build[-1]) + 1, seed, replicate)
            u[:, :lots] = of_lots[lot_of_build - first, :lots]
    except ValueError as error:
        raise InputFault([Message(f"builds cannot be drawn: {error}")]) from error
    return place(values, u)


def dimensions(values: Sequence[Value]) -> int:
    """How many independent deviates one build takes: one for each level of each value that scatters."""
    faults = check(values)
    if faults:
        raise InputFault(faults)
    return sum(scatters(value.lot) + scatters(value.part) for value in values)


def place(values: Sequence[Value], u: FloatArray) -> Columns:
    """Columns from points of the unit cube (n, dimensions): first the lot levels of all values, then the part levels.

    normal: mean + sd * inverse normal distribution(u); uniform: mean + sqrt(3) sd (2 u - 1); mean = nominal + the
    offsets of both levels. A value that follows another shares its deviation at each level, see `_correlated`. SI.
    Source: definitions of the two distributions.
    """
    n = len(u)
    u = _correlated(values, u)
    columns = {value.name: np.full(n, value.nominal + _offset(value)) for value in values}
    for dim, (level, value) in enumerate(_levels(values)):
        spread: Spread = getattr(value, level)
        columns[value.name] += spread.sd * _standard(spread, u[:, dim])
    return columns


def _correlated(values: Sequence[Value], u: FloatArray) -> FloatArray:
    """The points with the values that follow another drawn together with it: normal scores z' = r z_o + sqrt(1-r^2) z.

    r: their correlation; z_o, z: normal scores of the other's point and of the own; a level at which the other does not
    scatter stays as it is, and so does every distribution by itself. Source: Gaussian copula (textbook).
    """
    place_of = {(level, v.name): i for i, (level, v) in enumerate(_levels(values))}
    found = u
    for (level, name), i in place_of.items():
        value = next(v for v in values if v.name == name)
        other = place_of.get((level, value.follows))
        if other is None or not value.correlation:
            continue
        found = u.copy() if found is u else found
        r = value.correlation
        found[:, i] = ndtr(r * ndtri(u[:, other]) + math.sqrt(1.0 - r * r) * ndtri(u[:, i]))
    return found


def _levels(values: Sequence[Value]) -> list[tuple[str, Value]]:
    """Level and value of each dimension of the unit cube, in the order of `place`."""
    return [(level, v) for level in ("lot", "part") for v in values if scatters(getattr(v, level))]


def at_nominal(values: Sequence[Value]) -> Columns:
    """One build with every value at its nominal: no spread and no offset."""
    return {value.name: np.array([value.nominal]) for value in values}


def scatters(spread: Spread | None) -> bool:
    return bool(spread is not None and spread.sd > 0.0)  # a NumPy bool would add up as `or`


def check(values: Sequence[Value]) -> list[Message]:
    """Every fault of the values themselves: doubled names, spreads and nominals that are no numbers."""
    faults: list[Message] = []
    seen: set[str] = set()
    for value in values:
        if value.name in seen:
            faults.append(Message("is given twice", key=value.name))
        seen.add(value.name)
        if not np.isfinite(value.nominal):
            faults.append(Message("has no finite nominal", key=value.name, found=str(value.nominal)))
        if not -1.0 <= value.correlation <= 1.0:
            faults.append(Message("has an impossible correlation", key=value.name, found=str(value.correlation)))
        for level, spread in (("lot", value.lot), ("part", value.part)):
            if spread is not None and not (np.isfinite(spread.sd) and spread.sd >= 0 and np.isfinite(spread.offset)):
                found = f"sd {spread.sd}, offset {spread.offset}"
                allowed = "a finite offset and a standard deviation of 0 or more"
                what = f"has an impossible {level} spread"
                faults.append(Message(what, key=value.name, found=found, allowed=allowed))
    return faults


def _offset(value: Value) -> float:
    return sum(spread.offset for spread in (value.lot, value.part) if spread is not None)


def _standard(spread: Spread, u: FloatArray) -> FloatArray:
    """Deviates of mean 0 and standard deviation 1, shape of `u`."""
    if spread.shape == "uniform":
        return np.asarray(math.sqrt(3.0) * (2.0 * u - 1.0), dtype=np.float64)
    return np.asarray(ndtri(u), dtype=np.float64)
