"""Which parameter, and so which station, carries the scatter of each characteristic."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.order import order, upstream
from firstoff.chain.predict import in_order, values_of
from firstoff.chain.reduce import scalars, valued
from firstoff.chain.sample import dimensions, place, scatters
from firstoff.chain.station import Characteristic, Columns, FloatArray, Plan, Station
from firstoff.errors import InputFault, Message
from firstoff.methods import sobol
from firstoff.methods.variance_shares import bootstrap_errors, indices

FEWEST_ROWS = 16  # pairs of builds with a value; fewer say nothing about a share


@dataclass(frozen=True)
class Shares:
    """Shares of the variance of c characteristics: by p scattering parameters (lot and part together) and s stations.

    `first` is what a parameter carries alone, `total` what it carries with all its interactions; totals add up to 1 or
    more. Parameters that are drawn together (one follows another) each have the share of both. All are cut to [0, 1]:
    noise around nothing reads 0. `..._error` are half-widths of 95 % intervals, 1 where too few pairs of builds had a
    value. `dropped`: builds, of `n`, left out of some characteristic for want of a value.
    """

    characteristics: tuple[str, ...]
    parameters: tuple[str, ...]
    stations: tuple[str, ...]
    first: FloatArray  # (p, c)
    total: FloatArray  # (p, c)
    by_station: FloatArray  # (s, c) total order of all of a station's parameters as one group
    first_error: FloatArray  # (p, c)
    error: FloatArray  # (p, c) of `total`
    station_error: FloatArray  # (s, c)
    dropped: tuple[int, ...]  # (p,)
    station_dropped: tuple[int, ...]  # (s,)
    n: int
    seed: int


@dataclass(frozen=True)
class _Share:
    """One group of parameters; arrays are (c,)."""

    first: FloatArray
    total: FloatArray
    first_error: FloatArray
    total_error: FloatArray
    dropped: int


def shares(
    stations: Sequence[Station], plans: Mapping[str, Plan], seed: int, n: int = 1024, workers: int = 1
) -> Shares:
    """Sobol indices by parameter and by station, every build from a lot of its own (the running plant).

    Two independent samples A and B of n builds; for each group (a parameter's lot and part levels, or all parameters of
    a station) A is rerun with the group's columns from B, from the first station that reads them. n: a power of two.
    Cost: up to n (2 + p + s) builds. Results do not depend on `workers`. Raises InputFault for an n that is none.

    Source: Saltelli et al. (2010), Computer Physics Communications 181, 259; groups: Saltelli et al. (2008), Global
    Sensitivity Analysis: The Primer, section 1.2.14 (from memory).
    """
    if n < FEWEST_ROWS or n & (n - 1):
        raise InputFault([Message("must be a power of two", key="n", found=str(n), allowed=f"{FEWEST_ROWS}, 32, ...")])
    if workers < 1:
        raise InputFault([Message("must be 1 or more", key="workers", found=str(workers))])
    ordered = order(stations)
    columns_a, columns_b = _two_samples(ordered, plans, seed, n)
    run_a, run_b = (run(ordered, plans, Ensemble(columns, {})) for columns in (columns_a, columns_b))
    characteristics = tuple(c for c, _ in scalars(ordered, plans, run_a))
    chain = upstream(ordered)
    f_a, f_b = (valued(characteristics, known, chain) for known in (run_a, run_b))

    def share(group: tuple[str, ...]) -> _Share:
        if not group:
            return _nothing(len(characteristics))
        changed = Ensemble(run_a.columns | {name: columns_b[name] for name in group}, run_a.status)
        run_ab = run(ordered, plans, changed, since=group)
        # one seed: the resampling is the same for every group, so groups with the same builds get the same error
        return _share(f_a, f_b, valued(characteristics, run_ab, chain), seed)

    by_station = {
        s.name: tuple(v.name for v in plans[s.name].values if scatters(v.lot) or scatters(v.part)) for s in ordered
    }
    parameters = tuple(name for group in by_station.values() for name in group)
    together = _together(ordered, plans, parameters)
    groups = list(dict.fromkeys([together[name] for name in parameters] + list(by_station.values())))
    found = dict(zip(groups, in_order(share, groups, workers), strict=True))
    of_parameters = [found[together[name]] for name in parameters]
    of_stations = [found[group] for group in by_station.values()]
    return _collect(characteristics, parameters, tuple(by_station), of_parameters, of_stations, n, seed)


def _together(
    ordered: Sequence[Station], plans: Mapping[str, Plan], parameters: Sequence[str]
) -> dict[str, tuple[str, ...]]:
    """Each parameter with those drawn together with it: the indices ask for groups that are independent."""
    follows = {v.name: v.follows for v in values_of(ordered, plans) if v.correlation and v.follows in parameters}
    return {name: tuple(p for p in parameters if follows.get(p, p) == follows.get(name, name)) for name in parameters}


def _two_samples(ordered: Sequence[Station], plans: Mapping[str, Plan], seed: int, n: int) -> tuple[Columns, Columns]:
    """Independent samples of the parameters: the two halves of the dimensions of one sequence."""
    values = values_of(ordered, plans)
    dims = dimensions(values)
    try:
        u = sobol.points(2 * dims, 0, n, seed)
    except ValueError as error:
        raise InputFault([Message(f"builds cannot be drawn: {error}")]) from error
    return place(values, u[:, :dims]), place(values, u[:, dims:])


def _share(f_a: FloatArray, f_b: FloatArray, f_ab: FloatArray, seed: int) -> _Share:
    """Indices of each characteristic from the rows in which all three builds have a value of it (no NaN)."""
    good = ~(np.isnan(f_a) | np.isnan(f_b) | np.isnan(f_ab))
    found = np.zeros((2, len(f_a))), np.ones((2, len(f_a)))  # indices, errors
    # characteristics with the same builds go together: the resampling is theirs in common
    for rows in {row.tobytes(): np.flatnonzero((good == row).all(axis=1)) for row in good}.values():
        keep = good[rows[0]]
        if keep.sum() < FEWEST_ROWS:
            continue
        a, b, ab = (f[rows][:, keep] for f in (f_a, f_b, f_ab))
        first, total = indices(a, b, ab)
        found[0][:, rows] = np.clip(first[0], 0, 1), np.clip(total[0], 0, 1)
        found[1][:, rows] = bootstrap_errors(a, b, ab, np.random.default_rng(seed))
    dropped = int((~good).any(axis=0).sum())
    return _Share(found[0][0], found[0][1], found[1][0], found[1][1], dropped)


def _nothing(count: int) -> _Share:
    """A station without scatter of its own carries exactly nothing."""
    zero = np.zeros(count)
    return _Share(zero, zero, zero, zero, 0)


def _collect(
    characteristics: Sequence[Characteristic],
    parameters: tuple[str, ...],
    stations: tuple[str, ...],
    of_parameters: Sequence[_Share],
    of_stations: Sequence[_Share],
    n: int,
    seed: int,
) -> Shares:
    def table(rows: Sequence[FloatArray]) -> FloatArray:
        return np.array(rows, dtype=np.float64).reshape(len(rows), len(characteristics))

    return Shares(
        characteristics=tuple(c.name for c in characteristics),
        parameters=parameters,
        stations=stations,
        first=table([s.first for s in of_parameters]),
        total=table([s.total for s in of_parameters]),
        by_station=table([s.total for s in of_stations]),
        first_error=table([s.first_error for s in of_parameters]),
        error=table([s.total_error for s in of_parameters]),
        station_error=table([s.total_error for s in of_stations]),
        dropped=tuple(s.dropped for s in of_parameters),
        station_dropped=tuple(s.dropped for s in of_stations),
        n=n,
        seed=seed,
    )
