"""Prediction of a sum of normals (closed form: a normal) and against NumPy on the full sample."""

from __future__ import annotations

import dataclasses
import threading
import time
import tracemalloc

import numpy as np
import pytest
from chain_toys import linear, plan, toy, value
from scipy.stats import norm

from firstoff.chain.ensemble import Ensemble, StationFault, run
from firstoff.chain.predict import QUANTILES, SHOWN, in_order, nominal, predict
from firstoff.chain.sample import sample
from firstoff.chain.station import Characteristic
from firstoff.errors import InputFault

SD = np.sqrt(14.0)  # 1^2 + 2^2 + 3^2, parameters of variance 1


def full(stations, plans, n, seed, replicates, parts_per_lot=None):
    values = [v for p in plans.values() for v in p.values]
    sizes = [n // replicates + (r < n % replicates) for r in range(replicates)]
    return np.concatenate(
        [
            run(stations, plans, Ensemble(sample(values, 0, m, seed, r, parts_per_lot), {})).columns["y"]
            for r, m in enumerate(sizes)
        ]
    )


def test_closed_form_of_a_sum_of_normals():
    stations, plans = linear(high=1.5 * SD)
    p = predict(stations, plans, 2**15, 7)
    y = p.characteristics[0]
    assert y.station == "rig" and y.nominal == 0.0
    assert y.scatter.mean == pytest.approx(0.0, abs=max(4 * y.scatter.mean_error, 1e-4))
    assert y.scatter.sd == pytest.approx(SD, rel=2e-3)
    for q, share, error in zip(y.scatter.quantiles, QUANTILES, y.scatter.quantile_errors, strict=True):
        assert q == pytest.approx(SD * norm.ppf(share), abs=5 * error + 2 * y.scatter.resolution)
    assert y.outside.low <= norm.sf(1.5) <= y.outside.high
    independent = 2 * 1.96 * np.sqrt(norm.sf(1.5) * norm.cdf(1.5) / 2**15)  # width for independent builds
    assert y.outside.high - y.outside.low < independent
    assert p.any_outside == y.outside
    assert p.status["rig"] == {"ok": 2**15}


@pytest.mark.parametrize("parts_per_lot", [None, 50, 10**6])
def test_equals_numpy_on_the_full_sample(parts_per_lot):
    stations, plans = linear(low=-6.0, high=7.0)
    p = predict(stations, plans, 20_003, 3, chunk=700, parts_per_lot=parts_per_lot)
    y, s = full(stations, plans, 20_003, 3, 8, parts_per_lot), p.characteristics[0].scatter
    assert s.mean == pytest.approx(y.mean(), rel=1e-10, abs=1e-12)
    assert s.sd == pytest.approx(y.std(ddof=1), rel=1e-12)
    assert (s.minimum, s.maximum) == (y.min(), y.max())
    assert np.abs(np.array(s.quantiles) - np.quantile(y, QUANTILES)).max() <= s.resolution
    assert s.resolution < 0.01 * SD
    assert p.characteristics[0].below == (y < -6.0).sum()
    assert p.characteristics[0].above == (y > 7.0).sum()
    assert p.characteristics[0].outside.share == ((y < -6.0) | (y > 7.0)).mean()
    assert p.builds["y"] == tuple(y[:SHOWN])


def test_identical_bits_for_any_number_of_workers():
    stations, plans = linear(high=5.0)
    rig, lock = stations[-1], threading.Lock()
    plain, late = rig.function, []

    def uneven(x):
        with lock:
            late.append(1)
            delay = 0.002 * (len(late) % 3)
        time.sleep(delay)  # chunks finish out of order
        return plain(x)

    one = predict(stations, plans, 9000, 5, chunk=500)
    rig.function = uneven
    assert all(predict(stations, plans, 9000, 5, chunk=500, workers=w) == one for w in (1, 2, 3))


def test_chunks_change_only_the_last_digits_of_mean_and_sd():
    stations, plans = linear(high=5.0)
    a, b = (predict(stations, plans, 9000, 5, chunk=c) for c in (1000, 4096))
    one, other = a.characteristics[0], b.characteristics[0]
    assert one.scatter.quantiles == other.scatter.quantiles
    assert (one.outside, one.above, a.status, a.builds) == (other.outside, other.above, b.status, b.builds)
    assert one.scatter.sd == pytest.approx(other.scatter.sd, rel=1e-13)


def test_coverage_of_the_rate_over_seeds():
    stations, plans = linear(low=-1.8 * SD, high=2.2 * SD)
    share = norm.cdf(-1.8) + norm.sf(2.2)
    rates = [predict(stations, plans, 1600, seed).characteristics[0].outside for seed in range(200)]
    assert np.mean([r.low <= share <= r.high for r in rates]) >= 0.92
    assert np.mean([r.share for r in rates]) == pytest.approx(share, rel=0.02)


def test_coverage_with_a_shared_lot_offset():
    stations, plans = linear(high=1.3 * SD, lot=0.8, part=0.6)
    rates = [predict(stations, plans, 1600, s, parts_per_lot=50).characteristics[0].outside for s in range(150)]
    assert np.mean([r.low <= norm.sf(1.3) <= r.high for r in rates]) >= 0.90


def failing(threshold):
    """One station without a value above `threshold` standard deviations, in the closed form of a normal."""
    press = toy("press", lambda x: {"y": np.where(x["press.x"] > threshold, np.nan, x["press.x"])}, ["x"], gives=["y"])
    limits = Characteristic("y", "1", "result", low=-20.0, high=20.0)
    return [press], {"press": plan("press", value("press.x", part=1.0), gives=[limits])}


def test_builds_without_a_value_count_as_rejects():
    p = predict(*failing(1.0), 8192, 2)
    y = p.characteristics[0]
    assert y.below == y.above == 0
    assert y.outside.without_value == y.outside.rejects > 0
    assert y.outside.low == 0.0 < norm.sf(1.0) <= y.outside.high
    assert p.status["press"] == {"ok": 8192 - y.outside.rejects, "no value": y.outside.rejects}
    assert y.scatter.maximum <= 1.0


def test_no_reject_seen_still_has_the_exact_upper_bound():
    stations, plans = linear(high=100.0)
    rate = predict(stations, plans, 4000, 1).characteristics[0].outside
    assert (rate.share, rate.low) == (0.0, 0.0)
    assert (1 - rate.high) ** 4000 == pytest.approx(0.05, rel=1e-6)  # exact binomial


def test_a_chain_without_any_value_is_a_result():
    p = predict(*failing(-100.0), 100, 1)
    y = p.characteristics[0]
    assert y.scatter is None and y.nominal is None and y.outside.share == 1.0
    assert p.builds["y"] == ()


def test_curves_are_left_out_and_words_are_kept():
    rig = toy(
        "rig",
        lambda x: {"curve": np.ones((len(x["rig.x"]), 3)), "force": x["rig.x"]},
        ["x"],
        gives=["curve", "force"],
        flags=lambda x: np.where(x["rig.x"] > 0, 5, 0).astype(np.uint8),
    )
    gives = [Characteristic("curve", "N", "curve"), Characteristic("force", "N", "force")]
    p = predict([rig], {"rig": plan("rig", value("rig.x", 2.0, part=1e-3, assumed=True), gives=gives)}, 64, 1)
    assert [c.characteristic.name for c in p.characteristics] == ["force"]
    assert p.characteristics[0].outside is None
    assert p.status == {"rig": {"out of range, cavitating": 64}}
    assert p.assumed == ("rig.x",) and p.settings == {"rig.x": 2.0}


def test_nominal_is_one_build_without_scatter_or_offset():
    press = toy("press", lambda x: {"y": 2 * x["press.x"]}, ["x"], gives=["y"])
    plans = {"press": plan("press", value("press.x", 3.0, part=1.0, offset=0.5))}
    assert nominal([press], plans) == {"y": 6.0}
    assert press.runs == [1]


def test_memory_does_not_grow_with_the_builds():
    stations, plans = linear(high=5.0)
    peaks = []
    predict(stations, plans, 200_000, 1)  # fills what is cached for good
    for n in (100_000, 200_000):
        tracemalloc.start()
        predict(stations, plans, n, 1)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 1.2 * peaks[0]


@pytest.mark.parametrize("workers", [1, 3])
def test_only_a_few_chunks_wait_at_any_time(workers):
    taken = []

    def jobs():
        for i in range(200):
            taken.append(i)
            yield i

    for used, result in enumerate(in_order(lambda i: i * i, jobs(), workers)):
        assert result == used**2
        assert len(taken) - used <= 2 * workers
    assert used == 199


def test_progress_and_few_builds():
    stations, plans = linear(high=5.0)
    seen = []
    p = predict(stations, plans, 3, 1, progress=lambda done, n: seen.append((done, n)))
    assert p.replicates == 3 and seen == [(1, 3), (2, 3), (3, 3)]
    with pytest.raises(InputFault) as fault:
        predict(stations, plans, 0, 1, workers=0)
    assert [m.key for m in fault.value.messages] == ["n", "workers"]


def test_a_fault_in_a_worker_is_raised_and_named():
    stations, plans = linear()
    plain = stations[1].function
    stations[1].function = lambda x: plain(x) if len(x["s1.x"]) != 100 else {}
    with pytest.raises(StationFault, match="station s1"):
        predict(stations, plans, 10_000, 1, chunk=100, workers=2)


def test_all_results_are_plain_numbers():
    stations, plans = linear(high=5.0)
    p = dataclasses.asdict(predict(stations, plans, 100, 1, parts_per_lot=10))
    leaves, kinds = [p], set()
    while leaves:
        leaf = leaves.pop()
        if isinstance(leaf, dict):
            leaves += leaf.values()
        elif isinstance(leaf, (list, tuple)):
            leaves += leaf
        else:
            kinds.add(type(leaf))
    assert kinds <= {int, float, str, bool, type(None)}
