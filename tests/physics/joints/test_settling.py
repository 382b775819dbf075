"""Limits of threads against tables, embedding and warmth against closed forms, a hitch's loads by hand."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from firstoff.physics.durability.miner import block_damage
from firstoff.physics.durability.towing import CLASSES, d_value, life_used
from firstoff.physics.joints.limits_of_size import thread_limits
from firstoff.physics.joints.settling import EXPANSION, embedding_loss, growth

CASE = Path(__file__).parents[2] / "reference" / "joints" / "thread_strip.json"
MM, UM = 1e-3, 1e-6


def test_limits_of_an_m10_thread_are_those_of_the_table() -> None:
    # ISO 965-2 limits of M10x1.5 6g/6H, as the reference case states them (from memory); the standard rounds
    given = json.loads(CASE.read_text("utf-8"))["checks"][0]["inputs"]
    found = thread_limits(10.0 * MM, 1.5 * MM)
    wanted = [given[key] * MM for key in ("D1max_mm", "D2max_mm", "d2min_mm", "dmin_mm")]
    assert [float(x) for x in found] == pytest.approx(wanted, abs=12 * UM)
    with pytest.raises(ValueError, match="1 to 6 mm"):
        thread_limits(3.0 * MM, 0.5 * MM)


def test_embedding_is_a_gap_taken_by_two_springs_in_series() -> None:
    # both springs carry the same loss, and their deflections add up to what settled
    loss = float(embedding_loss(8.0 * UM, 4e8, 1.6e9))
    assert loss / 4e8 + loss / 1.6e9 == pytest.approx(8.0 * UM, rel=1e-12)


def test_a_plastic_strip_of_1600_mm_grows_by_about_nine_in_60_kelvin() -> None:
    # linear expansion (textbook): (110 - 12) 1e-6 1.6 m 60 K
    assert float(growth(1.6, EXPANSION["pp"], EXPANSION["steel"], 60.0)) == pytest.approx(9.408 * MM)
    assert float(growth(1.6, EXPANSION["steel"], EXPANSION["steel"], 60.0)) == 0.0


def test_loads_of_a_hitch_by_hand() -> None:
    # UN R55 (from memory): D = g T R/(T + R); half of either mass where both are alike
    assert float(d_value(2000.0, 2000.0)) == pytest.approx(9.80665 * 1000.0)
    assert float(d_value(1e9, CLASSES["2"])) == pytest.approx(9.80665 * 1587.6, rel=1e-5)
    # Basquin by hand: half the strength lasts 2^k times as long
    life = 2e6 * 2.0**3
    assert float(life_used(20e6, 40e6, 3.0)) == pytest.approx(block_damage(np.array([2e6]), np.array([life])))
