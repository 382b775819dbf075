"""What ordinary scatter does to the characteristics: many trial builds, reduced as they come."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from functools import reduce as fold
from typing import TypeVar

import numpy as np

from firstoff.chain.blame import Blame, blame
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.order import order, upstream
from firstoff.chain.reduce import Reducer, Totals, merge, scalars, status_in_words, valued
from firstoff.chain.sample import at_nominal, sample, scatters
from firstoff.chain.station import Characteristic, Plan, Station, Value
from firstoff.chain.status import describe
from firstoff.errors import InputFault, Message, nearest
from firstoff.methods import histogram
from firstoff.methods.moments import Moments, moments
from firstoff.methods.rates import rate_interval

QUANTILES = (0.00135, 0.025, 0.5, 0.975, 0.99865)
PILOT = 512  # builds that settle the grid of the quantiles, whatever the chunks
SHOWN = 200  # builds kept whole, for figures

_In = TypeVar("_In")
_Out = TypeVar("_Out")


@dataclass(frozen=True)
class Rate:
    """A share of rejects with its 95 % interval. Builds without a value are in `share` and in `high`, not in `low`."""

    share: float
    low: float
    high: float
    rejects: int  # outside limits, or without a value
    without_value: int
    builds: int


@dataclass(frozen=True)
class Scatter:
    """How a characteristic scatters over the builds with a value, SI. `..._error`: standard error over scrambles."""

    mean: float
    mean_error: float
    sd: float
    minimum: float
    maximum: float
    quantiles: tuple[float, ...]  # at QUANTILES
    quantile_errors: tuple[float, ...]
    resolution: float  # what the grid can add to the error of a quantile
    within_lot_sd: float | None = None  # where each scramble is a single lot: of the parts of one lot; `sd` is of all


@dataclass(frozen=True)
class CharacteristicPrediction:
    """One characteristic. None: no value came out, or there are no limits to be outside of."""

    characteristic: Characteristic
    station: str
    nominal: float | None
    scatter: Scatter | None
    below: int
    above: int
    outside: Rate | None


@dataclass(frozen=True)
class Prediction:
    """What `n` trial builds, shared equally (to one build) among independent scrambles, say about the chain."""

    n: int
    seed: int
    replicates: int
    parts_per_lot: int | None
    characteristics: tuple[CharacteristicPrediction, ...]
    any_outside: Rate
    status: dict[str, dict[str, int]]  # station -> words -> builds
    blame: dict[str, Blame]  # station with odd builds of its own -> the parameter that stands out in them
    settings: dict[str, float]  # parameter -> nominal, SI
    assumed: tuple[str, ...]  # scattering parameters whose scatter is assumed: the rates echo them
    builds: dict[str, tuple[float, ...]]  # the first builds with a value, characteristic by characteristic


def predict(
    stations: Sequence[Station],
    plans: Mapping[str, Plan],
    n: int,
    seed: int,
    *,
    workers: int = 1,
    chunk: int = 4096,
    replicates: int = 8,
    parts_per_lot: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Prediction:
    """Send n trial builds through the chain.

    The builds are split over `replicates` independent scrambles of the Sobol sequence, equal to one build; powers of
    two per scramble are most even, but not required. Results are equal to the last bit for any number of workers;
    another `chunk` changes no more than the last digits of mean and sd. parts_per_lot: as in `sample`; n / replicates
    or more makes each scramble a single lot. progress(done, n) is called in the caller's thread.
    """
    ordered = order(stations)
    values = values_of(ordered, plans)
    _check_numbers(n=n, workers=workers, chunk=chunk, replicates=replicates)
    replicates = min(replicates, n)
    sizes = [n // replicates + (r < n % replicates) for r in range(replicates)]

    def build(replicate: int, start: int, stop: int, per_lot: int | None) -> Ensemble:
        return run(ordered, plans, Ensemble(sample(values, start, stop, seed, replicate, per_lot), {}))

    # one lot alone would scatter too little to settle the grid of all
    pilot = build(0, 0, min(PILOT, sizes[0]), None)
    shown = pilot if parts_per_lot is None else build(0, 0, min(SHOWN, sizes[0]), parts_per_lot)
    given = scalars(ordered, plans, pilot)
    characteristics = tuple(c for c, _ in given)
    chain = upstream(ordered)
    scattering = {v.name: _mean_and_sd(v) for v in values if scatters(v.lot) or scatters(v.part)}
    settled = histogram.grid(moments(valued(characteristics, pilot, chain)))
    reducer = Reducer(characteristics, tuple(s.name for s in ordered), chain, scattering, settled)

    def work(job: tuple[int, int, int]) -> tuple[int, Totals]:
        return job[0], reducer.reduce(build(*job, parts_per_lot))

    by_scramble = _add_up(in_order(work, _chunks(sizes, chunk), workers), n, progress)
    whole = fold(merge, by_scramble)
    lots = None if parts_per_lot in (None, 1) else sum(-(-m // parts_per_lot) for m in sizes)
    return Prediction(
        n=n,
        seed=seed,
        replicates=replicates,
        parts_per_lot=parts_per_lot,
        characteristics=_characteristics(given, reducer, by_scramble, nominal(ordered, plans), lots),
        any_outside=_rate([(t.builds, t.any_outside, t.any_without) for t in by_scramble], lots),
        status=status_in_words(whole, reducer.stations),
        blame=blame(whole, reducer.stations, tuple(scattering), chain),
        settings={v.name: v.nominal for v in values},
        assumed=tuple(v.name for v in values if v.assumed and (scatters(v.lot) or scatters(v.part))),
        builds=_shown(characteristics, shown),
    )


def nominal(stations: Sequence[Station], plans: Mapping[str, Plan]) -> dict[str, float]:
    """One build with all values at their nominal: every single number that a station gives it, SI.

    A column without a usable number is left out.
    """
    ordered = order(stations)
    build = run(ordered, plans, Ensemble(at_nominal(values_of(ordered, plans)), {}))
    names = [name for s in ordered for name in s.gives if build.columns[name].ndim == 1]
    found = {name: float(build.columns[name][0]) for name in names}
    return {name: number for name, number in found.items() if math.isfinite(number)}


def nominal_status(stations: Sequence[Station], plans: Mapping[str, Plan]) -> dict[str, str]:
    """station -> words, for each station in which the build at nominal is not ok by that station's own doing."""
    ordered = order(stations)
    build = run(ordered, plans, Ensemble(at_nominal(values_of(ordered, plans)), {}))
    chain = upstream(ordered)
    flags = {s.name: int(build.status[s.name][0]) for s in ordered if build.has_value_in(chain[s.name] - {s.name})[0]}
    return {name: describe(flag) for name, flag in flags.items() if flag}


def values_of(ordered: Sequence[Station], plans: Mapping[str, Plan]) -> tuple[Value, ...]:
    """All parameters of the chain, station by station. InputFault for a station without a plan."""
    faults = [
        Message("has no plan", key=s.name, nearest=nearest(s.name, plans)) for s in ordered if s.name not in plans
    ]
    if faults:
        raise InputFault(faults)
    return tuple(value for station in ordered for value in plans[station.name].values)


def in_order(work: Callable[[_In], _Out], jobs: Iterable[_In], workers: int) -> Iterator[_Out]:
    """Results in the order of the jobs. Threads share the work; only two results per worker wait at any time."""
    if workers == 1:
        yield from map(work, jobs)
        return
    pool = ThreadPoolExecutor(workers)
    try:
        waiting: deque[Future[_Out]] = deque()
        for job in jobs:
            waiting.append(pool.submit(work, job))
            if len(waiting) >= 2 * workers:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    finally:
        pool.shutdown(cancel_futures=True)


def _chunks(sizes: Sequence[int], chunk: int) -> Iterator[tuple[int, int, int]]:
    """(scramble, first build, build after the last), scramble by scramble."""
    for replicate, builds in enumerate(sizes):
        for start in range(0, builds, chunk):
            yield replicate, start, min(start + chunk, builds)


def _add_up(parts: Iterable[tuple[int, Totals]], n: int, progress: Callable[[int, int], None] | None) -> list[Totals]:
    """Totals of each scramble, merged in the order of the chunks."""
    totals: dict[int, Totals] = {}
    done = 0
    for replicate, part in parts:
        totals[replicate] = merge(totals[replicate], part) if replicate in totals else part
        done += part.builds
        if progress is not None:
            progress(done, n)
    return list(totals.values())


def _check_numbers(**numbers: int) -> None:
    faults = [Message("must be 1 or more", key=key, found=str(k)) for key, k in numbers.items() if k < 1]
    if faults:
        raise InputFault(faults)


def _characteristics(
    given: Sequence[tuple[Characteristic, str]],
    reducer: Reducer,
    scrambles: Sequence[Totals],
    at_nominal_build: Mapping[str, float],
    lots: int | None,
) -> tuple[CharacteristicPrediction, ...]:
    found = []
    for i, (characteristic, station) in enumerate(given):
        limited = characteristic.low is not None or characteristic.high is not None
        found.append(
            CharacteristicPrediction(
                characteristic=characteristic,
                station=station,
                nominal=at_nominal_build.get(characteristic.name),
                scatter=_scatter(reducer.grid, i, scrambles, lots == len(scrambles)),
                below=sum(int(t.below[i]) for t in scrambles),
                above=sum(int(t.above[i]) for t in scrambles),
                outside=_rate([(t.builds, int(t.below[i] + t.above[i]), int(t.no_value[i])) for t in scrambles], lots)
                if limited
                else None,
            )
        )
    return tuple(found)


def _scatter(grid: histogram.Grid, i: int, scrambles: Sequence[Totals], single_lots: bool) -> Scatter | None:
    filled = [t for t in scrambles if t.moments.count[i]]
    if not filled:
        return None
    pooled = fold(merge, filled)
    low, high = float(pooled.moments.low[i]), float(pooled.moments.high[i])
    found, resolution = histogram.quantiles(grid, pooled.counts, i, QUANTILES, low, high)
    single = [
        histogram.quantiles(grid, t.counts, i, QUANTILES, float(t.moments.low[i]), float(t.moments.high[i]))[0]
        for t in filled
    ]
    return Scatter(
        mean=float(pooled.moments.mean[i]),
        mean_error=_error([float(t.moments.mean[i]) for t in filled]),
        sd=float(pooled.moments.sd[i]),
        minimum=low,
        maximum=high,
        quantiles=found,
        quantile_errors=tuple(_error(list(column)) for column in zip(*single, strict=True)),
        resolution=resolution,
        within_lot_sd=_pooled([t.moments for t in filled], i) if single_lots else None,
    )


def _pooled(lots: Sequence[Moments], i: int) -> float:
    """Standard deviation within lots, sqrt(sum M2 / sum (n - 1)); 0 when none has two builds."""
    return math.sqrt(sum(float(m.m2[i]) for m in lots) / max(sum(int(m.count[i]) - 1 for m in lots), 1))


def _error(estimates: Sequence[float]) -> float:
    """Standard error of the mean of independent estimates; 0 when there is only one."""
    count = len(estimates)
    return float(np.std(estimates, ddof=1)) / math.sqrt(count) if count > 1 else 0.0


def _rate(scrambles: Sequence[tuple[int, int, int]], lots: int | None) -> Rate:
    """Rate of builds outside limits, from (builds, outside, without value) of each scramble.

    A build without a value may be a reject, so it counts against the upper side.
    """
    builds, outside, without = (list(column) for column in zip(*scrambles, strict=True))
    rejects = [seen + lost for seen, lost in zip(outside, without, strict=True)]
    return Rate(
        share=sum(rejects) / sum(builds),
        low=rate_interval(outside, builds, lots)[0],
        high=rate_interval(rejects, builds, lots)[1],
        rejects=sum(rejects),
        without_value=sum(without),
        builds=sum(builds),
    )


def _mean_and_sd(value: Value) -> tuple[float, float]:
    levels = [spread for spread in (value.lot, value.part) if spread is not None]
    return value.nominal + sum(s.offset for s in levels), math.hypot(*(s.sd for s in levels))


def _shown(characteristics: Sequence[Characteristic], builds: Ensemble) -> dict[str, tuple[float, ...]]:
    good = builds.has_value
    return {c.name: tuple(builds.columns[c.name][good][:SHOWN].tolist()) for c in characteristics}
