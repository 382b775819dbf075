"""Files of raw traces: CSV as shops write it, Parquet, units, labels; and any bytes without a traceback."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firstoff.errors import InputFault, Message
from firstoff.sheets.units import same_dimension, to_si
from firstoff.trials import trace_checks
from firstoff.trials.columns import Units
from firstoff.trials.trace_file import Layout, Trace, continued, read

UNITS = Units(to_si, same_dimension)
PLAIN = Layout()


def traces(path: Path, text: str | bytes, layout: Layout = PLAIN, part: str = "") -> list[Trace]:
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read(path, layout, UNITS, part)[0]


def faults(path: Path, text: str | bytes, layout: Layout = PLAIN) -> Sequence[Message]:
    with pytest.raises(InputFault) as caught:
        traces(path, text, layout)
    return caught.value.messages


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "t.csv"


def test_points_and_semicolons_and_decimal_commas_say_the_same(file: Path) -> None:
    a = traces(file, "time [s],displacement [mm],force [N]\n0.0,1.5,100\n0.001,1.6,101.5\n")[0]
    b = traces(file, "Time [ms];Force [kN];Travel [cm]\n0,0;0,1;0,15\n1,0;0,1015;0,16\n")[0]
    for x, y in ((a.time, b.time), (a.displacement, b.displacement), (a.force, b.force)):
        np.testing.assert_allclose(x, y, rtol=1e-12, atol=1e-15)
    assert a.displacement[0] == pytest.approx(1.5e-3)
    assert list(a.lines) == [2, 3]


def test_parquet_says_the_same(file: Path) -> None:
    table = pa.table({
        "time [ms]": pa.array([0, 1, 2]), "displacement [mm]": pa.array([1.5, 1.6, 1.7], pa.float32()),
        "force [N]": [100.0, 101.5, 103.0], "part": ["A", "A", "B"],
    })  # fmt: skip
    buffer = io.BytesIO()
    pq.write_table(table, buffer)
    first, second = traces(file, buffer.getvalue())
    assert (first.part, second.part, first.place) == ("A", "B", "row")
    np.testing.assert_allclose(first.time, [0.0, 1e-3])
    np.testing.assert_allclose(first.displacement, [1.5e-3, 1.6e-3], rtol=1e-6)
    assert list(second.lines) == [3]


def test_parquet_with_a_hole_names_its_row(file: Path) -> None:
    buffer = io.BytesIO()
    pq.write_table(
        pa.table({"time [s]": [0.0, 1.0], "displacement [mm]": [1.0, None], "force [N]": [1.0, 2.0]}), buffer
    )
    (message,) = faults(file, buffer.getvalue())
    assert message.line == 2 and "displacement" in message.key and "row 2" in message.key


def test_parts_lots_and_speeds_of_one_file_are_traces_of_their_own(file: Path) -> None:
    rows = [f"{p};{lot};{v};{t};1;2" for p in "AB" for lot in ("1", "2") for v in ("0,5", "1") for t in (0, 1)]
    found = traces(file, "part;lot;speed [m/s];time [s];displacement [mm];force [N]\n" + "\n".join(rows))
    assert [(t.part, t.lot, t.speed) for t in found][:3] == [("A", "1", 0.5), ("A", "1", 1.0), ("A", "2", 0.5)]
    assert len(found) == 8 and all(len(t.time) == 2 for t in found)


def test_the_gauge_says_names_units_and_signs(file: Path) -> None:
    layout = Layout({"weg": "displacement", "kraft": "force", "t": "time"},
                    {"weg": "mm", "kraft": "kN", "t": "ms"}, True, True)  # fmt: skip
    one = traces(file, "t;Weg;Kraft\n0;10;1,5\n1;11;1,6\n", layout)[0]
    np.testing.assert_allclose(one.displacement, [-0.010, -0.011])
    np.testing.assert_allclose(one.force, [-1500.0, -1600.0])
    np.testing.assert_allclose(one.time, [0.0, 0.001])


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        ("time [s],displacement [mm],force\n0,1,2\n", 0, "has no unit"),
        ("time [s],displacement [N],force [N]\n0,1,2\n", 0, "unit of the wrong kind"),
        ("time [s],force [N]\n0,1\n", 0, "is missing"),
        ("time [s],displacement [mm],force [N],force [kN]\n0,1,2,3\n", 0, "is there twice"),
        ("time [s],displacement [mm],force [N]\n0,1,2\n1,NaN,3\n2,x,3\n", 3, "2 points without a usable number"),
        ("time [s],displacement [mm],force [N]\n0,1,2\n1,1,\n", 3, "is empty"),
        ("time [s],displacement [mm],force [N]\n", 0, "no points"),
        ("time [s],displacement [mm],force [N]\n0,1,2\n0,1,5,1,6\n", 3, "more cells than the header"),
        ("part,time [s],displacement [mm],force [N]\nA,0,1,2\n,1,1,2\n", 3, "is empty"),
    ],
)
def test_what_cannot_be_read_is_named_once_with_its_line(file: Path, text: str, line: int, said: str) -> None:
    (message,) = faults(file, text)
    assert said in message.what and message.file == str(file) and message.line == line


def test_times_that_begin_anew_with_each_cycle_are_laid_end_to_end() -> None:
    time = np.array([0.0, 0.1, 0.2, 0.0, 0.1, 0.2])
    np.testing.assert_allclose(continued(time, ["1"] * 3 + ["2"] * 3), np.arange(6) * 0.1)
    assert continued(time, ["1"] * 6) is time  # a time that goes back within a cycle is a fault, told elsewhere


def test_gaps_and_times_that_do_not_rise() -> None:
    time = np.arange(0.0, 2.0, 0.001)
    assert trace_checks.not_rising(time) is None
    assert trace_checks.not_rising(np.append(time, 1.9)) == len(time)
    assert trace_checks.gaps(time, 0.5) == (None, 0)
    assert trace_checks.gaps(np.delete(time, range(700, 710)), 0.5) == (None, 1)
    assert trace_checks.gaps(np.delete(time, range(700, 760)), 0.5) == (700, 0)


@pytest.mark.parametrize("step", [0.0, 0.5, 5.0, 40.0])
@pytest.mark.parametrize("rate", [200, 2000, 20000])
def test_only_a_cell_at_its_end_is_called_clipped(step: float, rate: int) -> None:
    """A display of any step makes peaks flat, a full cell flatter: the widths of steps on a parabola (geometry)."""
    force = 1340.0 * np.sin(2 * np.pi * np.arange(0.0, 4.0, 1.0 / rate))
    shown = np.round(force / step) * step if step else force
    assert trace_checks.clipped(shown) is None
    if rate > 200 and step < 10.0:  # a display of 40 N hides it
        assert trace_checks.clipped(np.minimum(shown, 1000.0)) is not None
        assert trace_checks.clipped(np.maximum(shown, -1000.0)) is not None


TEXT = st.text(st.sampled_from("0123456789.,;-+eE \t\n\"'[]smNktimedsplacforc%"), max_size=200)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.one_of(st.binary(max_size=300), TEXT.map(str.encode),
                 TEXT.map(lambda t: ("time [s],displacement [mm],force [N]\n" + t).encode())))  # fmt: skip
def test_any_bytes_are_read_or_refused(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "any.csv"
    path.write_bytes(data)
    try:
        found, _ = read(path, PLAIN, UNITS)
    except InputFault as fault:
        assert fault.messages and all(m.file for m in fault.messages)
    else:
        assert all(np.isfinite([t.time, t.displacement, t.force]).all() for t in found)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_parquet_of_any_columns_or_damaged_is_read_or_refused(tmp_path: Path, data: st.DataObject) -> None:
    cells = st.one_of(st.lists(st.one_of(st.none(), st.floats(width=64)), min_size=3, max_size=3),
                      st.lists(st.one_of(st.none(), st.integers(-(2**62), 2**62)), min_size=3, max_size=3),
                      st.lists(st.text(max_size=4), min_size=3, max_size=3),
                      st.lists(st.booleans(), min_size=3, max_size=3),
                      st.lists(st.datetimes(), min_size=3, max_size=3),
                      st.lists(st.binary(max_size=3), min_size=3, max_size=3),
                      st.lists(st.lists(st.integers(0, 9), max_size=2), min_size=3, max_size=3))  # fmt: skip
    names = ("time [s]", "displacement [mm]", "force [N]", "part", "speed [m/s]")
    buffer = io.BytesIO()
    pq.write_table(pa.table({name: data.draw(cells) for name in names}), buffer)
    raw = bytearray(buffer.getvalue())
    cut = data.draw(st.integers(0, len(raw)))
    if data.draw(st.booleans()):
        raw = raw[:cut]
    path = tmp_path / "any.parquet"
    path.write_bytes(bytes(raw))
    try:
        read(path, PLAIN, UNITS)
    except InputFault as fault:
        assert fault.messages
