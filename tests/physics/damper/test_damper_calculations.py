"""What the pocket calculations of damper and ride say to inputs they cannot use. Values: tests/reference/damper."""

from __future__ import annotations

import copy
import json
import math
from pathlib import Path
from typing import Any

import pytest

from firstoff.errors import InputFault
from firstoff.launch.calculations import damper, motion, ride

KINDS = {c.kind: c for c in damper.CALCULATIONS + motion.CALCULATIONS + ride.CALCULATIONS}
CASES = {
    case["kind"]: case["checks"]
    for case in (
        json.loads(path.read_text()) for path in (Path(__file__).parents[2] / "reference/damper").glob("*.json")
    )
}


def test_every_case_file_has_its_calculation() -> None:
    assert len(CASES) == 14
    assert set(CASES) == set(KINDS)


def leaves(inputs: dict[str, Any], path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found: list[tuple[Any, ...]] = []
    for key, value in inputs.items():
        if isinstance(value, dict):
            found += leaves(value, (*path, key))
        else:
            found.append((*path, key, 0) if isinstance(value, list) else (*path, key))
    return found


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_input_refuses_what_is_no_number_and_names_itself(kind: str) -> None:
    inputs = CASES[kind][0]["inputs"]
    for path in leaves(inputs):
        for wrong in (math.nan, math.inf, True, "wrong", None, {}):
            spoiled = copy.deepcopy(inputs)
            place = spoiled
            for step in path[:-1]:
                place = place[step]
            place[path[-1]] = wrong
            with pytest.raises(InputFault) as fault:
                KINDS[kind](spoiled)
            name = next(step for step in reversed(path) if isinstance(step, str))
            assert name in str(fault.value), (path, wrong)


@pytest.mark.parametrize(
    ("kind", "check", "change", "said"),
    [
        ("annular-disc-deflection", 0, {"load": "point load"}, "uniform pressure from r0_over_a to 1"),
        ("annular-disc-deflection", 0, {"b_over_a": 1.0}, "b_over_a"),
        ("annular-disc-deflection", 0, {"b_over_a": 0.0}, "b_over_a"),
        ("annular-disc-deflection", 0, {"r0_over_a": 0.1}, "r0_over_a"),
        ("annular-disc-deflection", 0, {"r_over_a": 0.5}, "r_over_a"),
        ("annular-disc-deflection", 0, {"a_m": 0.01}, "t_m"),
        ("annular-disc-deflection", 6, {"n_discs": 1.5}, "n_discs"),
        ("gas-spring-stroke", 0, {"rod_in_m": [0.1, 0.2]}, "same length"),
        ("gas-spring-stroke", 0, {"rod_in_m": 2.0}, "gas volume"),
        ("twin-tube-quasi-static-force", 0, {"rod_m": 0.04}, "rod_m"),
        ("twin-tube-quasi-static-force", 0, {"piston_rebound": {"bleed_area_m2": 1.0}}, "piston_rebound."),
        ("valve-flow", 0, {"valve": 3.0}, "valve"),
        ("quarter-car-road-response", 0, {"c_tyre_Ns_per_m": 10.0}, "c_tyre_Ns_per_m"),
        ("quarter-car-road-response", 0, {"waviness": 3}, "waviness"),
        ("iso8608-road-classes", 0, {"road_class": ["A", "Z"]}, "allowed: A, B"),
        ("iso8608-road-classes", 0, {"n0_per_m": 1.0}, "n0_per_m"),
        ("wk-frequency-weighting", 0, {"frequency_Hz": []}, "frequency_Hz"),
        ("wk-frequency-weighting", 0, {"frequency_Hz": -1.0}, "frequency_Hz"),
    ],
)
def test_values_out_of_range_are_named(kind: str, check: int, change: dict[str, Any], said: str) -> None:
    with pytest.raises(InputFault, match=said):
        KINDS[kind](CASES[kind][check]["inputs"] | change)


def test_single_numbers_give_single_results() -> None:
    found = KINDS["crank-rig-peak-speed"]({"stroke_m": 0.1, "speed_rpm": 60.0})
    assert found == {"v_peak": pytest.approx(math.pi * 0.1)}
    assert KINDS["iso8608-road-classes"]({"road_class": "B"}) == {"Gd_n0": 64.0}


def test_ring_load_of_a_sized_disc() -> None:
    """y = C_y w a^3/(E n t^3), sigma = 6 K w a/(n t^2) (plate theory)."""
    inputs = {"b_over_a": 0.5, "poisson": 0.3, "load": damper.RING_LOAD, "r_over_a": 0.9}
    sized = inputs | {"a_m": 0.01, "t_m": 2e-4, "n_discs": 2, "E_Pa": 2.06e11, "w_N_per_m": 1000.0}
    found = KINDS["annular-disc-deflection"](sized)
    assert found["y_edge"] == pytest.approx(found["C_y"] * 1000 * 1e-6 / (2.06e11 * 2 * 8e-12), rel=1e-12)
    assert found["sigma_rb_each_disc"] == pytest.approx(6 * found["K_Mrb"] * 1000 * 0.01 / (2 * 4e-8), rel=1e-12)


def test_a_locked_damper_is_told_and_a_cavitating_one_reported() -> None:
    inputs = CASES["twin-tube-quasi-static-force"][0]["inputs"]
    closed = dict.fromkeys(inputs["piston_rebound"], 0.0) | {"relief_rate_N_per_m": 1.0}
    with pytest.raises(InputFault, match="cannot pass"):
        KINDS["twin-tube-quasi-static-force"](inputs | {"piston_rebound": closed})
    assert KINDS["twin-tube-quasi-static-force"](inputs)["status"] == "ok"
    starved = KINDS["twin-tube-quasi-static-force"](inputs | {"base_intake": closed})
    assert starved["status"] == "cavitating"
    json.dumps(starved, allow_nan=False)


def test_absurd_inputs_are_refused_without_a_warning_of_the_libraries() -> None:
    import warnings

    for kind, key in (("wk-frequency-weighting", "frequency_Hz"), ("gas-spring-stroke", "rod_m")):
        inputs = {**CASES[kind][0]["inputs"], key: 1e300}
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            with pytest.raises(InputFault, match="cannot be calculated"):
                KINDS[kind](inputs)
