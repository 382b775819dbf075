"""Every check case under tests/reference, and under the folder named by REFERENCE_CASES, through `firstoff calc`.

Each case names its source; this adapter knows no kind. An unknown kind fails.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest

from firstoff.launch.calculations import find, kinds

HERE = Path(__file__).parent / "reference"
OWN_FORMAT = {"crane"}  # timetables have a format of their own, run by another test


def case_files() -> list[Path]:
    folders = [HERE]
    if os.environ.get("REFERENCE_CASES"):
        other = Path(os.environ["REFERENCE_CASES"])
        assert other.is_dir(), f"REFERENCE_CASES names no folder: {other}"
        folders.append(other)
    return [p for f in folders for p in sorted(f.rglob("*.json")) if not OWN_FORMAT & set(p.relative_to(f).parts[:-1])]


def checks() -> list[Any]:
    found = []
    for path in case_files():
        case = json.loads(path.read_text("utf-8"))
        for check in case["checks"]:
            found.append(pytest.param(case["kind"], check, id=f"{case['id']}-{check['id']}"))
    return found


def compare(name: str, found: Any, entry: dict[str, Any]) -> None:
    wanted = entry["value"]
    if isinstance(wanted, list):
        assert isinstance(found, list), f"{name}: a list is expected, found {found!r}"
        assert len(found) == len(wanted), f"{name}: {len(wanted)} values are expected, found {len(found)}"
        for i, (f, w) in enumerate(zip(found, wanted, strict=True)):
            compare(f"{name}[{i}]", f, {**entry, "value": w})
        return
    if entry.get("exact"):
        assert found == wanted, f"{name}: {found!r} is not {wanted!r}"
        return
    slack = max(entry.get("rel_tol", 0.0) * abs(wanted), entry.get("abs_tol", 0.0))
    assert abs(found - wanted) <= slack, f"{name}: {found} differs from {wanted} by more than {slack}"


@pytest.mark.parametrize(("kind", "check"), checks())
def test_case(kind: str, check: dict[str, Any]) -> None:
    result = find(kind)(check["inputs"])
    result = json.loads(json.dumps(result, allow_nan=False))  # as `firstoff calc` prints it
    for name, entry in check["expected"].items():
        assert name in result, f"{name} is not among the results: {', '.join(result)}"
        compare(name, result[name], entry)


def test_comparison_can_fail() -> None:
    with pytest.raises(AssertionError):
        compare("x", 1.1, {"value": 1.0, "rel_tol": 1e-3})
    with pytest.raises(AssertionError):
        compare("x", [1.0], {"value": [1.0, 2.0], "rel_tol": 1e-3})


def test_every_kind_has_a_case_and_a_source() -> None:
    covered = {json.loads(p.read_text("utf-8"))["kind"] for p in case_files()}
    assert {c.kind for c in kinds()} <= covered
    assert all(c.source and c.title for c in kinds())
