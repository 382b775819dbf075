"""The reduced model against the field it was made from."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from firstoff.physics.plating import mesh
from firstoff.physics.plating.field import Cell, Part
from firstoff.physics.plating.field_reduced import Reduced, Spot, reduce
from firstoff.physics.plating.polarisation import Polarisation
from firstoff.physics.plating.tank import tank
from firstoff.physics.status import OK, OUT_OF_RANGE

LAW = Polarisation(0.1, 1.0, 1e-4)
SPOTS = (
    Spot("middle", "part", (1.0, 0.4, 0.5), 0.08),
    Spot("end", "part", (0.55, 0.4, 0.5), 0.03),
    Spot("back", "part", (1.0, 0.4, 0.5), 0.08, "back"),
)


@cache
def bumper() -> Cell:
    """An arched bar of 1 m before two baskets, in an invented tank."""
    s = mesh.graded(-1.0, 1.0, 12)
    rows = [[(1.0 + 0.5 * x, 0.4 - 0.08 * x * x, z) for z in mesh.graded(0.42, 0.58, 4)] for x in s]
    bar = mesh.sheet(np.array(rows)[::-1])  # front towards the baskets
    baskets = [
        mesh.plate(np.array([x, 0.85, 0.15]), np.array([0.25, 0.0, 0.0]), np.array([0.0, 0.0, 0.7]), 3, 5)
        for x in (0.3, 1.45)
    ]
    parts = [Part("part", "cathode", bar), *(Part(f"basket {k}", "anode", m) for k, m in enumerate(baskets))]
    return Cell(parts, tank(2.0, 1.0, 0.9))


@cache
def model() -> Reduced:
    return reduce(bumper(), LAW, SPOTS, (50.0, 400.0), (5.0, 15.0), nodes=4)


def test_reduced_model_keeps_to_the_field() -> None:
    rng = np.random.default_rng(8)
    assert model().error < 2e-3
    for current, kappa in zip(rng.uniform(60, 380, 4), rng.uniform(6, 14, 4), strict=True):
        full = bumper().solve(kappa, LAW, current=current)
        near = model().run(current, kappa)
        count = len(full.front)
        middle = np.linalg.norm(bumper().mesh.centres[:count] - np.array(SPOTS[0].point), axis=1) <= 0.08
        areas = bumper().mesh.areas[:count][middle]
        wanted = float(areas @ full.front[middle] / areas.sum())
        assert near.density[0, 0] == pytest.approx(wanted, rel=5e-3)
        assert near.voltage[0] == pytest.approx(full.voltage, rel=2e-3)
        assert near.status[0] == OK


def test_ends_get_more_than_the_middle_and_the_back_less() -> None:
    found = model().run(200.0, 8.0).density[0]
    assert found[1] > found[0] > found[2] > 0.0


def test_conductivity_and_scale_of_the_polarisation_are_one_variable() -> None:
    twice = Polarisation(2.0 * LAW.tafel, LAW.exchange, 2.0 * LAW.resistance)
    full = bumper().solve(5.0, twice, current=200.0)
    again = bumper().solve(10.0, LAW, current=200.0)
    assert full.front == pytest.approx(again.front, rel=1e-7)
    assert model().run(200.0, 5.0, 2.0).density == pytest.approx(model().run(200.0, 10.0).density, rel=1e-12)
    assert model().run(200.0, 5.0, 2.0).voltage[0] == pytest.approx(full.voltage, rel=2e-3)


def test_outside_its_ranges_it_says_so() -> None:
    found = model().run(np.array([100.0, 1000.0, 100.0]), np.array([8.0, 8.0, 30.0]))
    assert found.status.tolist() == [OK, OUT_OF_RANGE, OUT_OF_RANGE]
    assert np.isfinite(found.density).all()


def test_spots_must_lie_on_plated_parts() -> None:
    for part in ("basket 0", "mirror"):
        with pytest.raises(ValueError, match="no plated part"):
            reduce(bumper(), LAW, (Spot("x", part, (0.0, 0.0, 0.0), 0.1),), (50.0, 400.0), (5.0, 15.0), 3)
