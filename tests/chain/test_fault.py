"""Faults as declared data: sizes and moves."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from firstoff.chain.fault import Fault, Move, Sizes, moved


@pytest.mark.parametrize(
    ("sizes", "law"),
    [
        (Sizes(2.0, 6.0), stats.uniform(2.0, 4.0)),
        (Sizes(0.1, 2.0, "log-uniform"), stats.loguniform(0.1, 2.0)),
        (Sizes(1.0, 5.0, "half-normal"), stats.truncnorm(0.0, 2.0, loc=1.0, scale=2.0)),
    ],
)
def test_grid_has_the_quantiles_of_its_law(sizes: Sizes, law: stats.rv_continuous) -> None:
    assert sizes.grid(25) == pytest.approx(law.ppf((np.arange(25) + 0.5) / 25))


def test_negative_sizes_and_both_signs() -> None:
    assert np.all(Sizes(-4.0, -1.0, "half-normal").grid(9) < -1.0)
    both = Sizes(1.0, 2.0, both_signs=True).grid(4)
    assert both == pytest.approx(-both[::-1])
    assert len(Sizes(3.0, 3.0).grid(20)) == 1
    with pytest.raises(ValueError):
        Sizes(-1.0, 1.0, "log-uniform")
    with pytest.raises(ValueError):
        Sizes(2.0, 1.0)


def fault(*moves: Move) -> Fault:
    return Fault("f", "s", "t", moves, Sizes(1.0, 2.0), ("all",), 1.0, "", "", "")


def test_moves_change_what_they_name_and_nothing_else() -> None:
    build = {"s.a": np.array([3.0]), "s.b": np.array([5.0]), "s.c": np.array([7.0])}
    sizes = np.array([1.0, 2.0])
    found = moved(build, fault(Move("s.a", "add"), Move("s.b", "scale"), Move("s.c", "set")), sizes)
    assert found["s.a"].tolist() == [4.0, 5.0]
    assert found["s.b"].tolist() == [5.0, 10.0]
    assert found["s.c"].tolist() == [1.0, 2.0]
    assert build["s.a"].tolist() == [3.0]
    assert moved(build, fault(Move("s.*", "add")), sizes)["s.c"].tolist() == [8.0, 9.0]
    with pytest.raises(KeyError):
        moved(build, fault(Move("s.d", "add")), sizes)
