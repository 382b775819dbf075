"""What to measure next, against dense conditioning and nested Monte Carlo on a small scene."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from firstoff.chain.measurement import Measurement, Readout
from firstoff.trials import next_reading
from firstoff.trials.belief import belief, doubt
from firstoff.trials.explain import explain
from firstoff.trials.hypotheses import SHAPE_ERROR
from firstoff.trials.next_reading import Belief, Held, rank
from firstoff.trials.scene import FloatArray, Scene, Suspect

NAMES = ("force a", "force b", "height", "zero")
K, N = 4, 3
RNG = np.random.default_rng(12)
ROOT = RNG.normal(size=(K, K))
LOT, PART = ROOT @ ROOT.T / K + 0.2 * np.eye(K), np.diag([0.5, 0.7, 0.3, 0.0])
MODEL = np.diag([0.4, 0.3, 0.1, 0.2])
NOISE = np.tile([0.3, 0.4, 0.2, 0.5], (N, 1))
ALL, ONE = np.ones(N, dtype=bool), np.array([False, True, False])


def small_scene() -> Scene:
    readings = np.full((N, K), np.nan)
    readings[:, :2] = [[12.0, 6.5], [13.5, 4.0], [12.5, 5.5]]
    readings[2, 1] = np.nan
    expected = np.tile([10.0, 5.0, 3.0, 0.0], (N, 1))
    return Scene(NAMES, ("P0", "P1", "P2"), ("",) * N, readings, expected, LOT, PART, MODEL, NOISE)


def small_belief() -> Belief:
    def held(name: str, weight: float, affected: FloatArray, shifts: list[list[float]], error: float) -> Held:
        s = np.array(shifts)
        sizes = np.array([0.6, 0.4])[: len(s)] if len(s) > 1 else np.ones(1)
        return Held(name, name, "", weight, affected, bool(affected.all()), sizes, s, (error * s) ** 2)

    return Belief(
        (
            held("none", 0.2, ~ALL, [[0.0] * K], 0.0),
            held("spring", 0.35, ALL, [[2.0, 0.5, 0.0, 0.0], [3.0, 1.0, 0.0, 0.0]], 0.2),
            held("crimp", 0.25, ALL, [[2.0, 0.6, 2.0, 0.0], [3.0, 0.9, 3.0, 0.0]], 0.2),
            held("chip", 0.2, ONE, [[3.0, -1.0, 0.0, 0.0], [4.0, -1.5, 1.0, 0.0]], 0.2),
        ),
        1.3,
    )


def dense(scene: Scene, b: Belief, hypothesis: int, size: int, further: int, of: list[int], columns: list[int]):  # type: ignore[no-untyped-def]
    """Mean and covariance of the new readings by conditioning the whole joint normal distribution at once."""
    h, rows = b.hypotheses[hypothesis], N + further + len(of)
    owner = [*range(N), *range(N, N + further), *of]  # the physical part behind each row: a read part may come again
    has = np.array([h.affected[p] if p < N else h.elsewhere for p in owner], dtype=float)
    same = np.equal.outer(owner, owner).astype(float)
    noise = np.array([NOISE[p] if p < N else NOISE[0] for p in owner])
    whole = np.kron(np.ones((rows, rows)), b.scale**2 * LOT + MODEL) + np.kron(same, b.scale**2 * PART)
    whole += np.diag(noise.ravel())
    reach = np.kron(has[:, None], np.eye(K))
    whole += reach @ np.diag(h.variances[size]) @ reach.T
    mean = np.tile(scene.expected[0], rows) + reach @ h.shifts[size]
    y = scene.readings.ravel()
    seen = np.flatnonzero(np.isfinite(y))
    new = np.array([r * K + c for r in range(N, rows) for c in columns])
    gain = np.linalg.solve(whole[np.ix_(seen, seen)], whole[np.ix_(seen, new)]).T
    return mean[new] + gain @ (y[seen] - mean[seen]), whole[np.ix_(new, new)] - gain @ whole[np.ix_(seen, new)]


def components(b: Belief) -> list[tuple[int, int]]:
    return [(i, j) for i, h in enumerate(b.hypotheses) for j in range(len(h.sizes))]


@pytest.mark.parametrize("columns", [[2], [2, 0]])
def test_predictions_of_further_parts_are_those_of_dense_conditioning(columns: list[int]) -> None:
    scene, b = small_scene(), small_belief()
    prior = next_reading._prepared(scene, b, scene.reduced(b.scale))
    found = next_reading._of_further_parts(scene, prior, columns, 4)
    middle = np.tile(np.eye(len(columns)), (1, 4)) / 4
    for c, (i, j) in enumerate(components(b)):
        mean, cov = dense(scene, b, i, j, 4, [], columns)
        assert found.means[c] == pytest.approx(middle @ mean, rel=1e-9)
        assert found.covariances[c] == pytest.approx(middle @ cov @ middle.T, rel=1e-9)


def test_predictions_of_the_same_parts_are_those_of_dense_conditioning() -> None:
    scene, b = small_scene(), small_belief()
    prior = next_reading._prepared(scene, b, scene.reduced(b.scale))
    found = next_reading._of_read_parts(scene, prior, [2, 0], [1, 2])
    for c, (i, j) in enumerate(components(b)):
        mean, cov = dense(scene, b, i, j, 0, [1, 2], [2, 0])
        assert found.means[c] == pytest.approx(mean, rel=1e-9)
        assert found.covariances[c] == pytest.approx(cov, rel=1e-9)


def measurement(name: str, reads: tuple[str, ...], on: str = "lot", **more: float) -> Measurement:
    given = {"parts": 2, "minutes": 5.0, "danger": 0, **more}
    readouts = tuple(Readout(r, 1.0) for r in reads)
    return Measurement(name, name, "station", readouts, on, **given)  # type: ignore[arg-type]


@pytest.mark.parametrize(("reads", "on", "columns"), [(("height",), "lot", [2]), (("height", "zero"), "same", [2, 3])])
def test_information_equals_nested_monte_carlo(reads: tuple[str, ...], on: str, columns: list[int]) -> None:
    # oracle: draw a cause and size from the belief, the reading from dense conditioning, and apply Bayes' theorem
    scene, b = small_scene(), small_belief()
    [found] = rank(scene, b, [measurement("m", reads, on)])
    of = [] if on == "lot" else [0, 1]  # the most suspected: P1, then the first
    assert found.parts == (() if on == "lot" else ("P0", "P1"))
    parts = components(b)
    predicted = [dense(scene, b, i, j, 2 if on == "lot" else 0, of, columns) for i, j in parts]
    weights = np.array([b.hypotheses[i].weight * b.hypotheses[i].sizes[j] for i, j in parts])
    prior = np.array([h.weight for h in b.hypotheses])
    rng, drawn = np.random.default_rng(4), 30_000
    which = rng.choice(len(parts), drawn, p=weights)
    z = np.array([rng.multivariate_normal(*predicted[c]) for c in which])
    p = np.zeros((len(prior), drawn))
    for w, (i, _), (mean, cov) in zip(weights, parts, predicted, strict=True):
        p[i] += w * stats.multivariate_normal(mean, cov).pdf(z)
    p /= p.sum(axis=0)
    drops = -np.sum(prior * np.log(prior)) + np.sum(p * np.log(p), axis=0)  # of the entropy
    assert found.information == pytest.approx(drops.mean(), abs=4 * drops.std() / np.sqrt(drawn) + 1e-2)


def test_ranking_is_by_information_a_minute_and_danger_is_a_bar() -> None:
    scene, b = small_scene(), small_belief()
    ranked = rank(scene, b, [
        measurement("slow", ("height",), minutes=50.0), measurement("quick", ("height",), minutes=5.0),
        measurement("deadly", ("height",), minutes=0.1, danger=3), measurement("taken", ("force a",)),
        measurement("blind", ("zero",), "rig"), measurement("unknown", ("elsewhere",)),
    ])  # fmt: skip
    assert [r.measurement.name for r in ranked][:2] == ["quick", "slow"]
    assert [r.measurement.name for r in ranked if r.proposed] == ["quick", "slow"]
    assert {r.measurement.name for r in ranked} == {"quick", "slow", "deadly", "blind"}
    by_name = {r.measurement.name: r for r in ranked}
    assert by_name["deadly"].information == by_name["quick"].information
    assert not by_name["blind"].proposed and by_name["blind"].information < next_reading.WORTH  # nothing moves the zero
    assert by_name["quick"].share == pytest.approx(by_name["quick"].information / b.open)


def test_answers_say_which_reading_speaks_for_which_cause() -> None:
    scene, b = small_scene(), small_belief()
    sharp = replace(scene, lot=0.01 * LOT, part=0.01 * PART, model=0.01 * MODEL)
    [found] = rank(sharp, replace(b, scale=1.0), [measurement("height", ("height",))])
    said = {a.name: a for a in found.answers}
    crimp = said["crimp"].ranges[-1]
    assert said["crimp"].decides and crimp.low is not None and 3.5 < crimp.low < 5.0 and crimp.high is None
    spring = said["spring"].ranges[0]
    assert spring.high is None or spring.high < crimp.low


def test_a_cause_as_good_as_sure_is_confirmed_against_one_that_nobody_declared() -> None:
    # closed form: two hypotheses at even odds whose predictions of the height lie far apart give one bit, ln 2
    scene, b = small_scene(), small_belief()
    weights = {"crimp": 0.95, "none": 0.02, "spring": 0.02, "chip": 0.01}
    sure = replace(b, hypotheses=tuple(replace(h, weight=weights[h.name]) for h in b.hypotheses))
    assert doubt(scene, [], b) is None  # nothing is sure yet: causes are to be told apart
    against = doubt(scene, [], sure)
    assert against is not None and {h.name: h.weight for h in against.hypotheses} == {
        "crimp": 0.5,
        "something else": 0.5,
    }
    sharp = replace(scene, lot=1e-3 * LOT, part=1e-3 * PART, model=1e-3 * MODEL, noise=1e-3 * NOISE)
    [found] = rank(sharp, sure, [measurement("height", ("height",))], doubt(sharp, [], sure))
    assert found.confirms and found.information == pytest.approx(np.log(2.0), abs=1e-2)


def test_answers_are_about_the_part_that_stands_out() -> None:
    scene, b = small_scene(), small_belief()
    weights = {"chip": 0.8, "none": 0.1, "spring": 0.05, "crimp": 0.05}
    chip = replace(b, hypotheses=tuple(replace(h, weight=weights[h.name]) for h in b.hypotheses))
    [found] = rank(scene, chip, [measurement("m", ("height",), "same")])
    assert found.told_of == "P1"
    everybody = replace(b, hypotheses=b.hypotheses[:3])  # no cause of one part alone: the mean of all that are measured
    assert rank(scene, everybody, [measurement("m", ("height",), "same")])[0].told_of == ""


def test_belief_of_an_explanation_keeps_its_probabilities_and_sizes() -> None:
    # law: empty columns change nothing; sizes weighed at one scale equal Bayes' theorem by scipy
    sizes = np.linspace(1.0, 4.0, 7)
    wide = (np.outer(sizes, [2.0, 0.5, 0.0, 0.0]), np.outer(sizes, [2.0, 0.6, 1.5, 0.0]))
    suspects = [Suspect(n, "st", n, ("all",), 0.1, sizes, s) for n, s in zip(("spring", "crimp"), wide, strict=True)]
    scene = small_scene()
    narrow = replace(
        scene, names=NAMES[:2], readings=scene.readings[:, :2], expected=scene.expected[:, :2], lot=LOT[:2, :2],
        part=PART[:2, :2], model=MODEL[:2, :2], noise=NOISE[:, :2],
    )  # fmt: skip
    e = explain(narrow, [replace(s, shifts=s.shifts[:, :2]) for s in suspects])
    b = belief(scene, suspects, e)
    assert sum(h.weight for h in b.hypotheses) == pytest.approx(1.0)
    by_name = {h.name: h for h in b.hypotheses if h.who == "all parts"}
    cause = next(c for c in e.causes if c.name == "crimp")
    total = e.none + sum(c.probability for c in e.causes)
    assert by_name["crimp"].weight == pytest.approx(cause.probability / total)
    y = narrow.readings.ravel()
    seen = np.isfinite(y)
    cov = np.kron(np.ones((N, N)), b.scale**2 * LOT[:2, :2] + MODEL[:2, :2])
    cov += np.kron(np.eye(N), b.scale**2 * PART[:2, :2]) + np.diag(NOISE[:, :2].ravel())
    log = []
    for s in suspects[1].shifts[:, :2]:
        whole = cov + np.kron(np.ones((N, N)), np.diag((SHAPE_ERROR * s) ** 2))
        mean = narrow.expected.ravel() + np.tile(s, N)
        log.append(stats.multivariate_normal(mean[seen], whole[np.ix_(seen, seen)]).logpdf(y[seen]))
    want = np.exp(np.array(log) - max(log))
    assert by_name["crimp"].sizes == pytest.approx(want / want.sum(), rel=1e-6)
