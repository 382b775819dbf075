"""The route card of scatter: every station and characteristic legible, numbers where the shares say."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from figure_reading import crowded, groups, texts
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from firstoff.errors import InputFault
from firstoff.report import share_figure, style
from firstoff.report.share_figure import route_card


def _case(count: int = 3, names: int = 2, **other: Any) -> dict[str, Any]:
    shares = np.random.default_rng(7).dirichlet(np.full(count, 0.3), names).T
    return {
        "stations": [(10 * (i + 1), f"Station {i} with a long title of work") for i in range(count)],
        "characteristics": [f"rebound force at the speed of step {j} [N]" for j in range(names)],
        "shares": shares,
        "leading": [f"leading parameter of station {i}, as it is called" for i in range(count)],
        "title": "Rear damper: share of scatter",
        **other,
    }


def test_the_same_bytes_on_every_call(tmp_path: Path) -> None:
    first = route_card(tmp_path / "a.svg", **_case()).read_bytes()
    assert route_card(tmp_path / "b.svg", **_case()).read_bytes() == first


@pytest.mark.parametrize("size", [(1, 1), (3, 2), (12, 20), (4, 25)])
def test_no_text_is_clipped_or_covered(size: tuple[int, int], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    faults: list[str] = []

    def look(figure: Figure, path: Path, *, title: str) -> Path:
        faults.extend(crowded(figure))
        assert figure.get_size_inches()[1] < 297.0 / 25.4  # A4
        return path

    monkeypatch.setattr(style, "save", look)
    full = np.ones(size)  # "100" is the widest number
    route_card(tmp_path / "a.svg", **_case(*size, shares=full))
    assert not faults


def test_numbers_are_printed_from_five_per_cent_up(tmp_path: Path) -> None:
    shares = [[0.049, 0.62], [0.05, np.nan], [0.901, 0.38]]
    path = route_card(tmp_path / "a.svg", **_case(shares=shares))
    assert {g for g in groups(path) if g.startswith("share-")} == {"share-0-1", "share-1-0", "share-2-0", "share-2-1"}
    said = texts(path)
    assert {"62", "5", "90", "38"} <= set(said)
    assert "no value" in said


def test_rounding_of_a_whole_share_is_no_fault(tmp_path: Path) -> None:
    shares = [[1.0 + 1e-12, 0.2], [-1e-12, 0.3], [0.0, 0.5]]
    assert "100" in texts(route_card(tmp_path / "a.svg", **_case(shares=shares)))


def test_stations_keep_their_order_and_say_their_leading_parameter(tmp_path: Path) -> None:
    stations = [(10, "Press"), (20, "Weld"), (30, "Charge")]
    path = route_card(tmp_path / "a.svg", **_case(stations=stations, leading=["force", "", "gas pressure"]))
    said = texts(path)
    order = [said.index(x) for x in ("op 10", "Press", "force", "op 20", "Weld", "op 30", "Charge", "gas pressure")]
    assert order == sorted(order)
    assert "<title>Rear damper: share of scatter</title>" in path.read_text("utf-8")


def test_a_long_name_keeps_its_unit(tmp_path: Path) -> None:
    names = ["burst pressure of the reserve tube and of its bottom weld [MPa]", "mass [kg]"]
    said = texts(route_card(tmp_path / "a.svg", **_case(characteristics=names)))
    assert any(t.startswith("burst pressure") and t.endswith("… [MPa]") for t in said)


def _luminance(colour: Any) -> float:
    """Relative luminance. Source: WCAG 2.1, definition of relative luminance."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(colour)]
    return float(np.dot(linear, [0.2126, 0.7152, 0.0722]))


def test_shades_darken_steadily_and_numbers_stay_legible() -> None:
    """Source: WCAG 2.1, success criterion 1.4.3: text needs a contrast ratio of 4.5."""
    shares = np.linspace(0.0, 1.0, 101)
    light = np.array([_luminance(share_figure._SHADES(s)) for s in shares])
    assert np.all(np.diff(light) < 0.0)
    ink = np.array([_luminance(share_figure._ink(s)) for s in shares])
    contrast = (np.maximum(light, ink) + 0.05) / (np.minimum(light, ink) + 0.05)
    assert contrast.min() >= 4.5


@pytest.mark.parametrize(
    ("wrong", "keys"),
    [
        ({"shares": [[0.1, 1.2]] * 3}, ["shares"]),
        ({"shares": [[0.1, -0.2]] * 3, "leading": []}, ["shares", "leading"]),
        ({"shares": [[0.1]]}, ["shares"]),
        ({"characteristics": [], "shares": np.zeros((3, 0))}, ["route card"]),
    ],
)
def test_every_wrong_input_is_named(wrong: dict[str, Any], keys: list[str], tmp_path: Path) -> None:
    with pytest.raises(InputFault) as fault:
        route_card(tmp_path / "a.svg", **_case(**wrong))
    assert [m.key for m in fault.value.messages] == keys
    assert not list(tmp_path.iterdir())
