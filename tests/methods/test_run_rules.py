"""Signals of an individuals chart against the published case, the tables' constant and the toss of a coin."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import numpy as np
import pytest

from firstoff.methods.run_rules import individuals_chart, moving_ranges, one_sided_runs

CASE = Path(__file__).parents[1] / "reference" / "quality" / "individuals_chart.json"


def test_limits_from_values_are_those_of_the_reference_case() -> None:
    """Values with mean 10 and mean moving range 0.5. Source: tests/reference/quality/individuals_chart.json."""
    check = json.loads(CASE.read_text("utf-8"))["checks"][0]
    values = [9.75, 10.25] * 10  # every neighbour 0.5 away
    found = individuals_chart(values)
    assert found.centre == check["inputs"]["mean"] and found.moving == check["inputs"]["MRbar"]
    for value, name in ((found.low, "LCL"), (found.high, "UCL"), (found.moving_high, "UCL_MR")):
        assert value == pytest.approx(check["expected"][name]["value"], rel=1e-6), name


def test_limits_are_266_mean_moving_ranges_from_the_mean_and_3267_above_nought() -> None:
    """2.660 and 3.267: the constants in every table of control charts (ASTM E2587)."""
    values = list(np.random.default_rng(7).normal(100.0, 3.0, 40))
    found = individuals_chart(values)
    moving = np.abs(np.diff(values)).mean()
    assert moving_ranges(values) == pytest.approx(np.abs(np.diff(values)))
    assert found.high - found.centre == pytest.approx(2.660 * moving, rel=1e-3)
    assert found.moving_high == pytest.approx(3.267 * moving, rel=1e-3)


@pytest.mark.parametrize("run", [2, 3, 4])
def test_runs_are_those_that_a_window_sees(run: int) -> None:
    """Brute force: every sequence of seven values below, on and above the centre."""
    for values in itertools.product((-1.0, 0.0, 1.0), repeat=7):
        seen = [i + 1 >= run and len(set(values[i + 1 - run : i + 1])) == 1 and values[i] != 0.0 for i in range(7)]
        assert list(one_sided_runs(values, 0.0, run)) == seen


def test_a_first_run_of_eight_takes_255_values_on_average() -> None:
    """2^8 - 1 tosses of a coin until eight in a row are alike (Feller, An Introduction to Probability, XIII.7)."""
    sides = np.where(np.random.default_rng(3).random((4000, 2500)) < 0.5, -1.0, 1.0)
    firsts = []
    for row in sides:
        same = np.convolve(row, np.ones(8), "valid")
        first = int(np.argmax(np.abs(same) == 8.0)) + 8
        firsts.append(first)
    assert np.mean(firsts) == pytest.approx(255.0, abs=4 * np.std(firsts) / np.sqrt(len(firsts)))
    for row, first in list(zip(sides, firsts, strict=True))[:60]:
        assert one_sided_runs(list(row[:first]), 0.0).index(True) == first - 1


def test_nonsense_is_refused() -> None:
    for values in ([1.0], [1.0, float("nan")]):
        with pytest.raises(ValueError):
            individuals_chart(values)
    with pytest.raises(ValueError):
        one_sided_runs([1.0], 0.0, 1)
