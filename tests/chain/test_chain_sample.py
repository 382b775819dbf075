"""Builds drawn by number: closed forms of the two distributions, and SciPy's own Sobol sequence as the other route."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from chain_toys import value

from firstoff.chain.sample import at_nominal, dimensions, sample
from firstoff.errors import InputFault

VALUES = [
    value("a.x", 10.0, lot=0.6, part=0.8),
    value("a.c", 3.0),
    value("b.u", 1.0, part=0.5, shape="uniform", offset=0.25),
    value("b.z", 2.0, lot=0.0, part=0.3),
]


def same(one, other) -> bool:
    return one.keys() == other.keys() and all(np.array_equal(one[k], other[k]) for k in one)


@pytest.mark.parametrize("parts_per_lot", [None, 1, 7, 64, 100_000])
def test_builds_do_not_depend_on_the_chunks(parts_per_lot):
    whole = sample(VALUES, 0, 9000, 5, parts_per_lot=parts_per_lot)
    for size in (1000, 4096):
        parts = [sample(VALUES, s, min(s + size, 9000), 5, parts_per_lot=parts_per_lot) for s in range(0, 9000, size)]
        assert same(whole, {k: np.concatenate([p[k] for p in parts]) for k in whole})


def test_only_what_scatters_takes_a_dimension():
    assert dimensions(VALUES) == 4
    columns = sample(VALUES, 0, 16, 1)
    assert np.all(columns["a.c"] == 3.0)
    fewer = sample([v for v in VALUES if v.name != "a.c"], 0, 16, 1)
    assert all(np.array_equal(fewer[k], columns[k]) for k in fewer)


def test_mean_and_spread_are_those_of_the_values():
    # closed forms: variances of lot and part add; uniform of standard deviation s covers mean ± sqrt(3) s
    columns = sample(VALUES, 0, 2**14, 11)
    assert columns["a.x"].mean() == pytest.approx(10.0, abs=1e-3)
    assert columns["a.x"].std() == pytest.approx(1.0, rel=5e-3)
    assert columns["b.u"].mean() == pytest.approx(1.25, abs=1e-3)
    assert columns["b.u"].std() == pytest.approx(0.5, rel=1e-3)
    assert np.abs(columns["b.u"] - 1.25).max() < 0.5 * np.sqrt(3)
    assert np.abs(columns["b.u"] - 1.25).max() > 0.499 * np.sqrt(3)


@pytest.mark.parametrize("parts_per_lot", [5, 32])
def test_parts_of_a_lot_share_its_offset(parts_per_lot):
    v = [value("s.lot", 1.0, lot=2.0), value("s.both", lot=1.0, part=1.0), value("s.part", part=1.0)]
    columns = sample(v, 3, 403, 9, parts_per_lot=parts_per_lot)
    lot = np.arange(3, 403) // parts_per_lot
    for k in np.unique(lot):
        assert np.unique(columns["s.lot"][lot == k]).size == 1
    assert np.unique(columns["s.lot"]).size == np.unique(lot).size
    assert np.unique(columns["s.part"]).size == 400


def test_a_lot_keeps_its_offset_whatever_its_size():
    v = [value("s.lot", lot=2.0), value("s.part", part=1.0)]
    plant = sample(v, 0, 50, 9)["s.lot"]
    assert np.array_equal(sample(v, 0, 500, 9, parts_per_lot=10)["s.lot"][::10], plant)
    assert np.all(sample(v, 0, 500, 9, parts_per_lot=500)["s.lot"] == plant[0])


@pytest.mark.parametrize("parts_per_lot", [None, 2, 4, 16])
def test_lot_offsets_and_part_deviations_are_uncorrelated(parts_per_lot):
    v = [value(f"s.l{i}", lot=1.0) for i in range(6)] + [value(f"s.p{i}", part=1.0) for i in range(6)]
    columns = sample(v, 0, 2**13, 2, parts_per_lot=parts_per_lot)
    r = np.corrcoef(np.array(list(columns.values())))
    assert np.abs(r - np.eye(12)).max() < 0.08


def test_scrambles_differ():
    draws = [sample(VALUES, 0, 8, s, r)["a.x"] for s, r in ((1, 0), (1, 1), (2, 0), (2, 1))]
    assert len({d[0] for d in draws}) == 4


def test_nominal_is_without_offset_and_scatter():
    assert {k: c.tolist() for k, c in at_nominal(VALUES).items()} == {
        "a.x": [10.0],
        "a.c": [3.0],
        "b.u": [1.0],
        "b.z": [2.0],
    }


def test_faults_are_said_by_name():
    bad = [value("a.x"), value("a.x"), value("a.y", part=-1.0), value("a.z", np.nan)]
    with pytest.raises(InputFault) as fault:
        sample(bad, 0, 1, 1)
    assert [m.key for m in fault.value.messages] == ["a.x", "a.y", "a.z"]
    with pytest.raises(InputFault, match="parts per lot"):
        sample(VALUES, 0, 1, 1, parts_per_lot=0)
    many = [value(f"a.p{i}", lot=1.0) for i in range(10_601)] + [value(f"a.q{i}", part=1.0) for i in range(10_601)]
    with pytest.raises(InputFault, match="21202 scattering values.*21201"):
        sample(many, 0, 1, 1)


@pytest.mark.parametrize("shape", ["normal", "uniform"])
def test_a_value_that_follows_another_keeps_its_own_scatter(shape):
    # oracle: a normal pair of correlation r; a uniform one by ranks has 6/pi asin(r/2) (Pearson 1907, from memory)
    r = 0.8
    thick = value("oil.a", 10.0, lot=2.0, part=1.0, shape=shape)
    thin = replace(value("oil.b", 5.0, lot=0.5, shape=shape), follows="oil.a", correlation=r)
    columns = sample([thin, thick, value("oil.c", part=1.0)], 0, 1 << 14, 3)
    a, b, c = (columns[f"oil.{name}"] for name in "abc")
    assert (b.mean(), b.std()) == pytest.approx((5.0, 0.5), rel=2e-3)
    alone = sample([replace(thick, part=None), thin], 0, 1 << 14, 3)
    wanted = r if shape == "normal" else 6 / np.pi * np.arcsin(r / 2)
    assert np.corrcoef(alone["oil.a"], alone["oil.b"])[0, 1] == pytest.approx(wanted, abs=5e-3)
    # the part deviation of `a` is not shared: it has no counterpart in `b`
    lot_share = 2.0 / np.hypot(2.0, 1.0)
    assert np.corrcoef(a, b)[0, 1] == pytest.approx(wanted * lot_share, abs=2e-2)
    assert abs(np.corrcoef(b, c)[0, 1]) < 2e-2


def test_following_what_does_not_scatter_changes_nothing():
    follower = replace(value("oil.b", 5.0, lot=0.5), follows="oil.a", correlation=0.9)
    still = value("oil.a", 1.0)
    assert np.array_equal(
        sample([still, follower], 0, 64, 1)["oil.b"],
        sample([still, replace(follower, follows="", correlation=0.0)], 0, 64, 1)["oil.b"],
    )
    with pytest.raises(InputFault, match="correlation"):
        sample([replace(follower, correlation=1.5)], 0, 4, 1)
