"""A strip through its thickness: against closed forms, a plain twin, and the laws of bending."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.physics.forming import flow_curve, strip

CASES = Path(__file__).parents[2] / "reference" / "forming"
LAYERS = 15


def cases(name: str) -> list[Any]:
    case = json.loads((CASES / f"{name}.json").read_text("utf-8"))
    return [pytest.param(c["inputs"], c["expected"], id=c["id"]) for c in case["checks"]]


def steps(*kinds: tuple[float, float, float]) -> np.ndarray:
    return np.array(kinds, dtype=float)[None, None]


def walked(
    program: np.ndarray, material: np.ndarray, thickness: float = 2e-3, layers: int = LAYERS
) -> tuple[strip.Strips, np.ndarray, int]:
    places, weights = strip.layers(layers)
    start = strip.flat(1, 1, layers)
    found, after, status = strip.walk(start, program, np.full((1, 1), thickness), places, weights, material)
    return found, after[0, 0], int(status[0])


def plastic(strength: float, modulus: float = 206e9, poisson: float = 0.3) -> np.ndarray:
    one = np.ones(1)
    return flow_curve.strip_rows(modulus, poisson, strength * one, 0.0 * one, one, one, 0.0)


def swift(kinematic: float = 0.5, proof: float = 320e6, r: float = 1.2) -> np.ndarray:
    strength, pre = flow_curve.swift(np.array([proof]), np.array([proof + 100e6]), np.array([0.17]))
    return flow_curve.strip_rows(206e9, 0.3, strength, np.array([0.17]), pre, np.array([r]), kinematic)


def back(program: np.ndarray, material: np.ndarray, thickness: float = 2e-3, layers: int = LAYERS) -> float:
    found, _, status = walked(program, material, thickness, layers)
    assert status == 0
    return float(found.curvature[0, 0])


@pytest.mark.parametrize(("inputs", "expected"), cases("springback_pure_bend_epp"))
def test_perfectly_plastic_bend_against_the_cubic_formula(inputs: dict[str, float], expected: dict[str, Any]) -> None:
    radius = 1e-3 * inputs["neutral_radius_mm"]
    program = steps((strip.BEND, 1.0 / radius, 0.0), (strip.RELEASE, 0.0, 0.0))
    wanted = expected["radius_ratio_plane_strain"]
    assert back(program, plastic(1e6 * inputs["yield_MPa"])) * radius == pytest.approx(
        wanted["value"], rel=wanted["rel_tol"]
    )


@pytest.mark.parametrize(("inputs", "expected"), cases("sidewall_curl_bend_unbend_epp"))
def test_curl_of_a_wall_against_the_closed_form(inputs: dict[str, float], expected: dict[str, Any]) -> None:
    tension = 1e3 * inputs["tension_N_per_mm"]
    bend = 1e3 / inputs["bend_neutral_radius_mm"]
    program = steps((strip.BEND, bend, tension), (strip.BEND, 0.0, tension), (strip.RELEASE, 0.0, 0.0))
    wanted = expected["curl_radius"]
    curl = back(program, plastic(1e6 * inputs["yield_MPa"]))
    # the sheet is let go with a curvature in the sense of the die bend
    assert 1e3 / curl == pytest.approx(wanted["value"], rel=wanted["rel_tol"])


@pytest.mark.parametrize(("inputs", "expected"), cases("springback_pure_bend_power_law"))
def test_power_law_bend_against_the_closed_form(inputs: dict[str, float], expected: dict[str, Any]) -> None:
    radius, one = 1e-3 * inputs["neutral_radius_mm"], np.ones(1)
    law = flow_curve.strip_rows(
        206e9, 0.3, 1e6 * inputs["K_MPa"] * one, inputs["n"] * one, 1e-6 * one, one, 0.0
    )  # released elastically
    program = steps((strip.BEND, 1.0 / radius, 0.0), (strip.RELEASE, 0.0, 0.0))
    found, after, status = walked(program, law, layers=25)
    assert status == 0
    assert after[0, 2] == pytest.approx(expected["moment"]["value"], rel=expected["moment"]["rel_tol"])
    ratio = float(found.curvature[0, 0]) * radius
    assert ratio == pytest.approx(expected["radius_ratio"]["value"], abs=expected["radius_ratio"]["abs_tol"])


def test_elastic_bend_comes_back_whole() -> None:
    # first yield at kappa = 2 Y / (E t): textbook
    below = 0.9 * 2.0 * (2.0 / 3**0.5) * 300e6 / (206e9 / 0.91 * 2e-3)
    assert back(steps((strip.BEND, below, 0.0), (strip.RELEASE, 0.0, 0.0)), plastic(300e6)) == pytest.approx(
        0.0, abs=1e-9
    )


@pytest.mark.parametrize("kinematic", [0.0, 0.4, 1.0])
def test_stretch_follows_the_flow_curve_whatever_the_mix(kinematic: float) -> None:
    law = swift(kinematic)
    strain = 0.05
    found, _, _ = walked(steps((strip.SQUEEZE, strain, 0.0)), law)
    stress = found.state[0, 0, :, strip.STRESS]
    elastic = stress / law[0, strip.MODULUS]
    reached = law[0, strip.PRE_STRAIN] + law[0, strip.FACTOR] * (strain - elastic)
    assert stress == pytest.approx(law[0, strip.STRENGTH] * reached ** law[0, strip.EXPONENT], rel=1e-6)


def test_reversal_yields_the_sooner_the_more_is_kinematic() -> None:
    # after 3 % stretch, back by a strain that is elastic with isotropic hardening and not with kinematic
    left = {}
    for mix in (0.0, 1.0):
        law = swift(mix)
        up = 0.03
        found, _, _ = walked(steps((strip.SQUEEZE, up, 0.0)), law)
        down = 1.7 * float(found.state[0, 0, 0, strip.STRESS]) / law[0, strip.MODULUS]
        found, _, _ = walked(steps((strip.SQUEEZE, up, 0.0), (strip.SQUEEZE, -down, 0.0)), law)
        left[mix] = float(found.state[0, 0, 0, strip.PLASTIC])
    assert left[1.0] > left[0.0] + 1e-4


def test_kinematic_hardening_flattens_the_curl() -> None:
    program = steps((strip.BEND, 111.0, 1.5e5), (strip.BEND, 0.0, 2e5), (strip.RELEASE, 0.0, 0.0))
    curls = [back(program, swift(mix)) for mix in (0.0, 0.5, 1.0)]
    assert curls[0] > curls[1] > curls[2] > 0.0


def twin(program: np.ndarray, law: np.ndarray, thickness: float, layers: int, substeps: int) -> float:
    """The same strip in plain NumPy, by bisection for the membrane strain and an elastic release."""
    modulus, strength, n, pre, f, mix = law[0]
    places, weights = strip.layers(layers)
    y = places * thickness
    stress, backs, p = np.zeros(layers), np.zeros(layers), np.zeros(layers)

    def hardened(q: np.ndarray) -> np.ndarray:
        return np.asarray(strength * (pre + f * q) ** n)

    def strained(e: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        trial = stress + modulus * e
        over = trial - backs
        limit = hardened(np.zeros(1)) + (1.0 - mix) * (hardened(p) - hardened(np.zeros(1)))
        low, high = np.zeros(layers), np.abs(e) + 1e-12
        for _ in range(70):
            d = 0.5 * (low + high)
            more = np.abs(over) - modulus * d - limit - (hardened(p + d) - hardened(p)) > 0.0
            low, high = np.where(more, d, low), np.where(more, high, d)
        d = np.where(np.abs(over) > limit, 0.5 * (low + high), 0.0)
        sign = np.sign(over)
        return trial - sign * modulus * d, backs + sign * mix * (hardened(p + d) - hardened(p)), p + d

    bend = tension = 0.0
    for kind, target, pull in program[0, 0]:
        if kind != strip.BEND:
            continue
        for i in range(substeps):
            change, wanted = (target - bend) / (substeps - i), tension + (pull - tension) / (substeps - i)
            low, high = -0.3, 0.3
            for _ in range(60):
                e = 0.5 * (low + high)
                force = float(weights @ strained(e + y * change)[0]) * thickness
                low, high = (e, high) if force < wanted else (low, e)
            stress, backs, p = strained(0.5 * (low + high) + y * change)
            bend, tension = bend + change, wanted
    moment = float(weights @ (y * stress)) * thickness
    return bend - 12.0 * moment / (modulus * thickness**3)


def test_kernel_agrees_with_a_plain_twin() -> None:
    program = steps((strip.BEND, 100.0, 1.0e5), (strip.BEND, 0.0, 1.6e5), (strip.RELEASE, 0.0, 0.0))
    law = swift(0.0)  # isotropic: the release is elastic, as the twin's
    assert back(program, law) == pytest.approx(twin(program, law, 2e-3, LAYERS, strip.SUBSTEPS), rel=2e-4)


def test_few_layers_and_steps_are_enough() -> None:
    program = steps((strip.BEND, 111.0, 1.5e5), (strip.BEND, 0.0, 2e5), (strip.RELEASE, 0.0, 0.0))
    fine = twin(program, swift(0.0), 2e-3, 45, 12)
    assert back(program, swift(0.0)) == pytest.approx(fine, rel=0.02)


bends = st.floats(0.004, 0.08)
tensions = st.floats(0.0, 0.6)
mixes = st.floats(0.0, 1.0)


def drawn(radius: float, share: float, law: np.ndarray) -> np.ndarray:
    pull = share * law[0, strip.STRENGTH] * law[0, strip.PRE_STRAIN] ** law[0, strip.EXPONENT] * 2e-3
    return steps((strip.BEND, 1.0 / radius, 0.7 * pull), (strip.BEND, 0.0, pull), (strip.RELEASE, 0.0, 0.0))


@given(bends, tensions, mixes)
@settings(max_examples=40)
def test_what_is_let_go_bears_neither_force_nor_moment(radius: float, share: float, mix: float) -> None:
    law = swift(mix)
    found, _, status = walked(drawn(radius, share, law), law)
    assert status == 0
    places, weights = strip.layers(LAYERS)
    stress = found.state[0, 0, :, strip.STRESS]
    scale = np.abs(stress).max() + 1e6
    assert abs(weights @ stress) < 1e-5 * scale
    assert abs(weights @ (places * stress)) < 1e-5 * scale
    assert np.abs(stress).max() > 0.0  # but the residual stresses stay


@given(bends, st.floats(250e6, 450e6), st.floats(1.03, 1.3), mixes)
@settings(max_examples=40)
def test_a_stronger_coil_springs_back_more_and_a_thicker_one_less(
    radius: float, proof: float, factor: float, mix: float
) -> None:
    program = steps((strip.BEND, 1.0 / radius, 0.0), (strip.RELEASE, 0.0, 0.0))
    usual = back(program, swift(mix, proof))
    assert back(program, swift(mix, factor * proof)) < usual
    assert back(program, swift(mix, proof), 2e-3 * factor) > usual


@given(bends, st.floats(0.0, 0.5), mixes)
@settings(max_examples=30)
def test_a_mirrored_bend_springs_back_alike(radius: float, share: float, mix: float) -> None:
    law = swift(mix)
    program = drawn(radius, share, law)
    mirrored = program * np.array([1.0, -1.0, 1.0])
    assert back(mirrored, law) == pytest.approx(-back(program, law), rel=1e-4, abs=1e-6)


def test_too_much_tension_is_said_and_not_computed() -> None:
    law = plastic(300e6)
    pull = 1.2 * (2.0 / 3**0.5) * 300e6 * 2e-3
    _, _, status = walked(steps((strip.BEND, 100.0, pull)), law)
    assert status & 128
