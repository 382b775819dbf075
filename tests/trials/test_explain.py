"""Explaining on problems small enough to be worked out otherwise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from firstoff.trials.explain import explain
from firstoff.trials.hypotheses import MANY_FLOOR, MANY_SIZES, OTHER_ALL, OTHER_ONE, OTHER_SIZES
from firstoff.trials.scene import Scene, Suspect, anchored

NAMES = ("a", "b", "c", "d")
K = len(NAMES)
LOT, PART = np.diag([1.0, 2.0, 1.0, 0.5]) ** 2 + 0.3, np.eye(K) * 0.6
SIZES = np.linspace(2.0, 8.0, 24)


def suspect(name: str, direction: list[float], who: tuple[str, ...] = ("all",), prior: float = 0.05) -> Suspect:
    shifts = np.outer(SIZES, direction)
    return Suspect(name, f"station {name}", name, who, prior, SIZES, shifts)  # type: ignore[arg-type]


SUSPECTS = (
    suspect("first", [2.0, 0.0, 1.0, 0.0]),
    suspect("second", [0.0, 2.0, 0.0, -1.0]),
    suspect("twin of first", [2.0, 0.02, 1.0, 0.0]),
    suspect("lone", [0.0, 0.0, -2.0, 2.0], ("one",)),
    suspect("rack", [-2.0, 1.0, 0.0, 2.0], ("group",)),
)


def scene(rng: np.random.Generator, n: int = 6, scale: float = 1.0) -> Scene:
    lot = scale * rng.multivariate_normal(np.zeros(K), LOT)
    parts = scale * rng.multivariate_normal(np.zeros(K), PART, n)
    expected = np.tile([100.0, 50.0, 20.0, 10.0], (n, 1))
    y = expected + lot + parts + rng.normal(0.0, 0.5, (n, K))
    groups = tuple("AB"[i % 2] for i in range(n))
    names = tuple(f"P{i}" for i in range(n))
    return Scene(NAMES, names, groups, y, expected, LOT, PART, np.zeros((K, K)), np.full((n, K), 0.25))


def moved(s: Scene, shift: list[float], affected: slice | int = slice(None)) -> Scene:
    readings = s.readings.copy()
    readings[affected] += shift
    return replace(s, readings=readings)


def test_each_kind_of_cause_is_found_and_probabilities_sum_to_one() -> None:
    rng = np.random.default_rng(8)
    for shift, affected, name, who in (
        ([0.0, 12.0, 0.0, -6.0], slice(None), "second", "all parts"),
        ([0.0, 0.0, -9.0, 9.0], 3, "lone", "part P3"),
        ([-10.0, 5.0, 0.0, 10.0], slice(1, None, 2), "rack", "group B"),
        ([9.0, 0.0, 4.5, 0.0], slice(None), "first", "all parts"),
    ):
        found = explain(moved(scene(rng), shift, affected), SUSPECTS)
        assert sum(found.who.values()) == pytest.approx(1.0)
        top = found.causes[0]
        assert top.who == who
        if name == "first":  # two causes with one signature: neither may be sure, and each names the other
            assert {c.name for c in found.causes[:2]} == {"first", "twin of first"}
            assert top.probability < 0.7
            assert set(top.alike) <= {"first", "twin of first"} and len(top.alike) == 1
        else:
            assert top.name == name and top.probability > 0.9
            assert top.alike == ()


def test_size_is_inside_its_interval_as_often_as_stated() -> None:
    # simulation: 200 launches; a 90 % interval on a grid of 24 sizes covers at least 84 % (binomial, 3 sd)
    rng = np.random.default_rng(11)
    inside = 0
    for _ in range(200):
        size = rng.uniform(2.0, 8.0)
        e = explain(moved(scene(rng), [0.0, 2 * size, 0.0, -size]), SUSPECTS[1:2], shape_error=0.0)
        cause = next((c for c in e.causes if c.name == "second"), None)
        half = (SIZES[1] - SIZES[0]) / 2
        inside += cause is not None and cause.low - half <= size <= cause.high + half  # type: ignore[operator]
    assert inside >= 0.84 * 200


@pytest.mark.parametrize("scale", [0.7, 1.0, 1.5])
def test_healthy_lots_are_not_accused(scale: float) -> None:
    rng = np.random.default_rng(21)
    accused = [max(explain(scene(rng, scale=scale), SUSPECTS).faults.values()) >= 0.7 for _ in range(60)]
    assert np.mean(accused) <= 0.05


def test_what_nobody_declared_is_called_something_else() -> None:
    rng = np.random.default_rng(5)
    found = explain(moved(scene(rng), [14.0, -14.0, -10.0, 9.0]), SUSPECTS)
    assert found.causes[0].name == "something else"
    assert found.other > 0.9
    assert any("no station declares" in text for text in found.statements)


def test_scatter_that_is_too_small_by_far_is_said_to_fit_badly() -> None:
    rng = np.random.default_rng(6)
    found = explain(scene(rng, n=8, scale=6.0), SUSPECTS[:1])
    assert found.fit < 0.01 or found.other > 0.5
    assert found.statements


def test_two_hypotheses_equal_bayes_theorem_by_hand() -> None:
    # oracle: scipy.stats.multivariate_normal on the stacked readings, one scale, one size, something else included
    rng = np.random.default_rng(2)
    s = moved(scene(rng, n=1), [0.0, 4.0, 0.0, -2.0])
    one = Suspect("x", "st", "x", ("all",), 0.2, np.array([1.0]), np.array([[0.0, 4.0, 0.0, -2.0]]))
    r = (s.readings - s.expected)[0]
    from firstoff.methods import evidence

    total = np.zeros(3)
    usual = np.maximum(3 * np.sqrt(np.diag(LOT + PART)), np.abs(one.shifts[0]))
    frees = [f**2 * (LOT + PART) + np.diag((MANY_FLOOR * usual) ** 2) for f in MANY_SIZES]
    frees += [np.diag((f * usual) ** 2) for f in OTHER_SIZES]
    for c, w in zip(*evidence.scales(), strict=True):
        cov = c**2 * (LOT + PART) + 0.25 * np.eye(K)
        total += w * np.array([
            stats.multivariate_normal(np.zeros(K), cov).pdf(r),
            stats.multivariate_normal(one.shifts[0], cov).pdf(r),
            np.mean([stats.multivariate_normal(np.zeros(K), cov + free).pdf(r) for free in frees]),
        ])  # fmt: skip
    p = total * np.array([0.8 - OTHER_ALL, 0.2, OTHER_ALL])
    p /= p.sum()
    found = explain(s, [one], shape_error=0.0)
    assert [found.none, found.faults["x"], found.other] == pytest.approx(p)
    assert OTHER_ONE > 0.0


def test_what_each_reading_adds_sums_to_the_log_likelihood() -> None:
    # law: s.g - s.M s/2 is a sum over the characteristics; at stated scatter and the posterior mean size
    rng = np.random.default_rng(3)
    s = moved(scene(rng), [0.0, 12.0, 0.0, -6.0])
    cause = explain(s, SUSPECTS).causes[0]
    assert cause.size is not None
    shift = np.array([0.0, 2.0, 0.0, -1.0]) * cause.size
    r = s.readings - s.expected
    n = len(r)
    whole = np.kron(np.ones((n, n)), LOT) + np.kron(np.eye(n), PART + 0.25 * np.eye(K))
    want = stats.multivariate_normal(np.tile(shift, n), whole).logpdf(r.ravel())
    want -= stats.multivariate_normal(np.zeros(n * K), whole).logpdf(r.ravel())
    assert sum(adds for _, adds in cause.readings) == pytest.approx(want)


def test_missing_readings_are_left_out_and_a_blind_fault_is_named() -> None:
    rng = np.random.default_rng(4)
    s = moved(scene(rng), [0.0, 12.0, 0.0, -6.0])
    readings = s.readings.copy()
    readings[:, 0] = np.nan
    readings[2, 1] = np.nan
    found = explain(replace(s, readings=readings), [*SUSPECTS, suspect("only a", [3.0, 0.0, 0.0, 0.0])])
    assert found.causes[0].name == "second"
    assert found.unseen == ("only a",)


def test_anchor_takes_out_the_bias_of_the_model() -> None:
    rng = np.random.default_rng(9)
    bias = np.array([9.0, -7.0, 6.0, 5.0])
    good = moved(scene(rng), list(bias))
    healthy = moved(scene(rng), list(bias))
    assert explain(healthy, SUSPECTS).none < 0.1
    assert explain(anchored(healthy, good), SUSPECTS).none > 0.6
    faulty = moved(healthy, [0.0, 14.0, 0.0, -7.0])
    assert explain(anchored(faulty, good), SUSPECTS).causes[0].name == "second"


def test_anchor_carries_the_covariance_of_the_good_lot() -> None:
    rng = np.random.default_rng(10)
    s = scene(rng, n=4)
    holes = s.readings.copy()
    holes[:, 3] = np.nan
    found = anchored(replace(s, model=np.eye(K) * 7.0), replace(s, readings=holes))
    assert found.model[:3, :3] == pytest.approx((LOT + (PART + 0.25 * np.eye(K)) / 4)[:3, :3])
    assert found.model[3, 3] == 7.0 and found.model[0, 3] == 0.0
    assert found.expected[0, :3] == pytest.approx(s.readings[:, :3].mean(axis=0))


def test_stated_probabilities_are_right_as_often_as_they_say() -> None:
    # simulation from the very priors: mean probability of the first cause equals its share of hits within 3 sd
    rng = np.random.default_rng(33)
    suspects = [replace(s, prior=0.15, who=("all",)) for s in SUSPECTS[:3]]
    said, right = [], []
    for _ in range(300):
        which = int(rng.choice(4, p=[0.55, 0.15, 0.15, 0.15]))
        s = scene(rng, scale=float(np.exp(np.clip(rng.normal(0, 0.35), np.log(0.5), np.log(2.0)))))
        if which:
            s = moved(s, list(suspects[which - 1].shifts[rng.integers(len(SIZES))]))
        found = explain(s, suspects, shape_error=0.0)
        shares = {"none": found.none, **found.faults}
        best = max(shares, key=lambda name: shares[name])
        said.append(shares[best])
        right.append(best == ("none" if not which else suspects[which - 1].name))
    sd = np.sqrt(np.sum(np.array(said) * (1 - np.array(said)))) / len(said)
    assert abs(np.mean(said) - np.mean(right)) < 3 * sd + 0.03  # 0.03: something else, and pairs, are never drawn here
