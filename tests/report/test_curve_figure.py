"""The force-velocity figure: the same bytes each time, nothing clipped or covered, marks where the numbers say."""

from __future__ import annotations

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
import pytest
from figure_reading import crowded, groups, marks, texts
from matplotlib.figure import Figure

from firstoff.errors import InputFault
from firstoff.report import style
from firstoff.report.curve_figure import Quantiles, force_velocity

SPEEDS = np.array([-1.5, -1.0, -0.5, -0.25, -0.1, -0.05, 0.05, 0.1, 0.25, 0.5, 1.0, 1.5])


def _case(**other: Any) -> dict[str, Any]:
    """Twelve speeds, limits ±15 %, eight parts 10 % low in rebound from 0.5 m/s; the last two 20 % low there."""
    nominal = np.where(SPEEDS < 0, -1100 * (np.abs(SPEEDS) / 1.5) ** 0.6, 2000 * (np.abs(SPEEDS) / 1.5) ** 0.65)
    part = 0.02 * np.sin(np.arange(8))
    low = np.where(SPEEDS >= 0.5, 0.9, 1.0)[None, :] - np.where(SPEEDS >= 0.5, 0.1, 0.0) * (np.arange(8) > 5)[:, None]
    readings = {f"F-{i + 1:03d}": nominal * (low[i] + part[i]) for i in range(8)}
    width = np.abs(nominal)
    return {
        "speeds": SPEEDS,
        "nominal": nominal,
        "quantiles": Quantiles(nominal - 0.09 * width, nominal, nominal + 0.09 * width, "99.7 % of trial builds"),
        "limits": (nominal - 0.15 * width, nominal + 0.15 * width),
        "readings": readings,
        "title": "Rear damper, left: force against rod speed",
        **other,
    }


def _one(**other: Any) -> dict[str, Any]:
    quantiles = Quantiles([850.0], [900.0], [960.0], "95 % of trial builds")
    given = {"speeds": [0.5], "nominal": [900.0], "quantiles": quantiles, "limits": ([800.0], [1000.0])}
    return {**given, "readings": {"A": [780.0], "B": [910.0]}, "title": "One speed", **other}


def _odd() -> dict[str, Any]:
    """Thirty speeds, long part names, all parts too high somewhere, limits missing at one end and both."""
    v = np.linspace(-1.45, 1.5, 30)
    force = 900 * np.sign(v) * np.abs(v) ** 0.6
    lower, upper = force - 60.0, force + 60.0
    lower[3], upper[3], upper[20] = np.nan, np.nan, np.nan
    readings = {f"RD-2207-L-{i:04d}": force + 30.0 * i for i in range(12)}
    quantiles = Quantiles(force - 40, force, force + 40, "95 % of trial builds")
    title = "A title that is much too long for one line of the page and for two of them " * 3
    return {"speeds": v, "nominal": force, "quantiles": quantiles, "limits": (lower, upper), "readings": readings,
            "title": title}  # fmt: skip


def _no_limits() -> dict[str, Any]:
    nothing = np.full(12, np.nan)
    return _case(limits=(nothing, nothing), readings={})


def test_the_same_bytes_on_every_call(tmp_path: Path) -> None:
    first = force_velocity(tmp_path / "a.svg", **_case()).read_bytes()
    with matplotlib.rc_context({"font.size": 21, "svg.hashsalt": "other", "axes.facecolor": "red"}):
        assert force_velocity(tmp_path / "b.svg", **_case()).read_bytes() == first
    assert force_velocity(tmp_path / "a.svg", **_case()).read_bytes() == first
    assert [p.name for p in sorted(tmp_path.iterdir())] == ["a.svg", "b.svg"]


def test_the_same_bytes_in_another_process_and_in_threads(tmp_path: Path) -> None:
    first = force_velocity(tmp_path / "a.svg", **_case()).read_bytes()
    code = (
        f"import sys; sys.path.insert(0, {str(Path(__file__).parent)!r})\n"
        "import test_curve_figure as t\n"
        f"t.force_velocity({str(tmp_path / 'b.svg')!r}, **t._case())\n"
        "assert 'matplotlib.pyplot' not in sys.modules\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=120)
    assert (tmp_path / "b.svg").read_bytes() == first
    with ThreadPoolExecutor(4) as pool:
        paths = list(pool.map(lambda i: force_velocity(tmp_path / f"t{i}.svg", **_case()), range(4)))
    assert all(p.read_bytes() == first for p in paths)


def test_global_settings_are_left_as_they_were(tmp_path: Path) -> None:
    before = dict(matplotlib.rcParams)
    force_velocity(tmp_path / "a.svg", **_case())
    assert dict(matplotlib.rcParams) == before


def test_title_units_and_signs_are_on_the_figure(tmp_path: Path) -> None:
    path = force_velocity(tmp_path / "a.svg", **_case())
    said = texts(path)
    assert "rod speed, rebound positive [m/s]" in said
    assert "force, tension positive [N]" in said
    assert "off the middle [% of half tolerance]" in said
    assert "99.7 % of trial builds" in said
    assert "Rear damper, left: force against rod speed" in said
    assert "<title>Rear damper, left: force against rod speed</title>" in path.read_text("utf-8")
    assert 'width="481.889' in path.read_text("utf-8")  # 170 mm in points of 1/72 inch


@pytest.mark.parametrize("case", [_case, _one, _odd, _no_limits])
def test_no_text_is_clipped_or_covered(case: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    faults: list[str] = []

    def look(figure: Figure, path: Path, *, title: str) -> Path:
        faults.extend(crowded(figure))
        return path

    monkeypatch.setattr(style, "save", look)
    force_velocity(tmp_path / "a.svg", **case())
    assert not faults


def test_the_limits_lie_at_plus_and_minus_100_at_every_speed(tmp_path: Path) -> None:
    """Source: closed form. Readings on a limit, in the middle, and a quarter below the upper one, all speeds alike."""
    low, high = _case()["limits"]
    readings = {"low": low, "middle": (low + high) / 2, "quarter": low + 0.75 * (high - low), "high": high}
    path = force_velocity(tmp_path / "a.svg", **_case(readings=readings))
    y = np.array(marks(path, "use-readings"))[:, 1].reshape(4, 12)
    assert "use-outside" not in groups(path)
    assert np.ptp(y, axis=1) == pytest.approx(0.0, abs=1e-4)
    assert y[0, 0] > y[1, 0] > y[3, 0]  # y runs downwards on the page
    assert y[1, 0] == pytest.approx((y[0, 0] + y[3, 0]) / 2, abs=1e-4)
    assert y[2, 0] == pytest.approx(y[0, 0] + 0.75 * (y[3, 0] - y[0, 0]), abs=1e-4)


def test_readings_outside_are_marked_and_named(tmp_path: Path) -> None:
    """Source: the planted case: two parts 20 % low at three speeds against a limit of 15 %."""
    path = force_velocity(tmp_path / "a.svg", **_case())
    assert len(marks(path, "readings-outside")) == len(marks(path, "use-outside")) == 6
    assert len(marks(path, "readings")) == len(marks(path, "use-readings")) == 96 - 6
    assert texts(path).count("F-007") == texts(path).count("F-008") == 3
    assert {"outside-low-9", "outside-low-10", "outside-low-11"} <= groups(path)
    assert "outside-low-8" not in groups(path)
    assert "reading outside its limits (6 of 96)" in texts(path)


def test_a_reading_far_away_is_drawn_at_the_edge(tmp_path: Path) -> None:
    path = force_velocity(tmp_path / "a.svg", **_one(readings={"far": [5000.0], "near": [900.0]}))
    assert len(marks(path, "use-far-high")) == 1
    assert not marks(path, "use-far-low")
    assert "far" in texts(path)
    assert "beyond the lower panel (1)" in texts(path)


def test_missing_values_are_left_out_not_drawn_at_nought(tmp_path: Path) -> None:
    case = _case()
    case["readings"]["F-001"] = np.where(SPEEDS < 0, np.nan, case["readings"]["F-001"])
    low, high = (np.array(x) for x in case["limits"])
    low[0], high[0], high[6] = np.nan, np.nan, np.nan
    path = force_velocity(tmp_path / "a.svg", **{**case, "limits": (low, high)})
    assert len(marks(path, "readings")) + len(marks(path, "readings-outside")) == 96 - 6
    assert len(marks(path, "limits-low")) == 11
    assert len(marks(path, "limits-high")) == 10
    assert {"no limits", "one limit"} <= set(texts(path))
    assert "nan" not in path.read_text("utf-8").lower().replace("dominant", "")


def test_a_reading_beyond_its_only_limit_is_still_named(tmp_path: Path) -> None:
    path = force_velocity(tmp_path / "a.svg", **_one(limits=([800.0], [np.nan])))
    assert len(marks(path, "readings-outside")) == 1
    assert "A" in texts(path) and "one limit" in texts(path)


def test_without_readings_and_without_limits(tmp_path: Path) -> None:
    bare = force_velocity(tmp_path / "a.svg", **_case(readings={}))
    assert not any("reading" in t for t in texts(bare))
    assert "off the middle [% of half tolerance]" in texts(bare)
    assert "off the middle [% of half tolerance]" not in texts(force_velocity(tmp_path / "b.svg", **_no_limits()))


def test_a_single_speed_shows_its_spread(tmp_path: Path) -> None:
    path = force_velocity(tmp_path / "a.svg", **_one())
    assert texts(path).count("+0.5") == 2
    assert len(marks(path, "readings")) == len(marks(path, "readings-outside")) == 1
    assert "use-0" in groups(path)


def test_names_from_sheets_are_only_text(tmp_path: Path) -> None:
    readings = {"$x$ --> <b>&\x1b\x00": [700.0], "_hidden": [1200.0]}
    path = force_velocity(tmp_path / "a.svg", **_one(readings=readings, title="50 % $a$ & <b>"))
    assert "outside-low-0" in groups(path)  # parses as XML
    # a comment holds no double hyphen (XML 1.0, 2.5): matplotlib parts it
    assert {"50 % $a$ & <b>", "$x$ - -> <b>&"} <= set(texts(path))
    assert "_hidden" in texts(path)


def test_every_wrong_array_is_named_at_once(tmp_path: Path) -> None:
    wrong = _one(nominal=[1.0, 2.0], limits=([1000.0], [800.0]), readings={"A": [np.inf], "B": [[1.0]]})
    with pytest.raises(InputFault) as fault:
        force_velocity(tmp_path / "a.svg", **wrong)
    assert [m.key for m in fault.value.messages] == ["nominal", "readings.A", "readings.B", "limits"]
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("speeds", [[], [0.5, 0.1], [0.1, 0.1], [np.nan], [[0.1]]])
def test_speeds_out_of_order_are_refused(speeds: Any, tmp_path: Path) -> None:
    with pytest.raises(InputFault) as fault:
        force_velocity(tmp_path / "a.svg", **_one(speeds=speeds))
    assert fault.value.messages[0].key == "speeds"
