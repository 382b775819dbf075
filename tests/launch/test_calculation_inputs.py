"""What the handbook's calculations say to inputs they cannot use: a message, never a traceback, never a NaN."""

from __future__ import annotations

import copy
import json
import math
from pathlib import Path
from typing import Any

import pytest

from firstoff.errors import InputFault
from firstoff.launch.calculations import find

FOLDERS = ("impact", "joints", "durability", "plating", "line", "moulding", "tube")
CASES = {
    case["kind"]: case["checks"][0]["inputs"]
    for folder in FOLDERS
    for case in (
        json.loads(p.read_text()) for p in sorted((Path(__file__).parents[1] / "reference" / folder).glob("*.json"))
    )
}
BAD: tuple[Any, ...] = (None, "x", math.nan, math.inf, -1.0, 0.0, 1e308, True, [], {}, [1.0, "x"])


def answer(kind: str, inputs: dict[str, Any]) -> str | None:
    """The refusal, or None when there was an answer that JSON can hold."""
    try:
        json.dumps(find(kind)(inputs), allow_nan=False)
    except InputFault as fault:
        assert fault.messages
        return str(fault)
    return None


@pytest.mark.parametrize("kind", sorted(CASES))
def test_no_input_breaks_a_calculation(kind: str) -> None:
    refused = 0
    for key, value in CASES[kind].items():
        for bad in BAD:
            inputs = copy.deepcopy(CASES[kind])
            inputs[key] = bad
            refused += answer(kind, inputs) is not None
            if isinstance(value, list):
                inputs[key] = [bad, *value[1:]]
                refused += answer(kind, inputs) is not None
    assert refused or not CASES[kind]


@pytest.mark.parametrize("kind", sorted(CASES))
def test_missing_and_misspelt_inputs_are_named(kind: str) -> None:
    for name in find(kind).inputs:
        inputs = {key: value for key, value in CASES[kind].items() if key != name}
        assert name in (answer(kind, inputs) or "")
    assert "no_such_input" in (answer(kind, {**CASES[kind], "no_such_input": 1.0}) or "")


@pytest.mark.parametrize("kind", sorted(CASES))
def test_units_and_whats_are_told(kind: str) -> None:
    found = find(kind)
    assert all(found.inputs.values()) and all(found.optional.values())
    assert set(found(CASES[kind])) <= set(found.gives)


def test_lists_of_unequal_length_are_refused() -> None:
    said = answer("hoop-stress", {"p_MPa": [1.0, 2.0], "ri_mm": [20.0, 21.0, 22.0], "ro_mm": 30.0})
    assert said and "same length" in said


def test_a_list_where_one_number_is_usual_is_one_calculation_an_item() -> None:
    case = CASES["barrier-bilinear-brackets"]
    speeds = [0.2, 1.1176, 2.0]
    together = find("barrier-bilinear-brackets")({**case, "speed_m_per_s": speeds})
    for n, speed in enumerate(speeds):
        alone = find("barrier-bilinear-brackets")({**case, "speed_m_per_s": speed})
        assert {name: values[n] for name, values in together.items()} == alone
    said = answer("barrier-bilinear-brackets", {**case, "speed_m_per_s": speeds, "vehicle_mass_kg": [1.0, 2.0]})
    assert said and "same length" in said
