"""Quantities as on a drawing. Outside sources: the international inch (25.4 mm, ISO 80000-3), the standard atmosphere
(101 325 Pa, ISO 2533), the Celsius and Fahrenheit scales (ISO 80000-5), and the closed form of a uniform spread."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.sheets.quantity import Quantity, QuantityError, parse, parse_limits
from firstoff.sheets.units import format_value, from_si, same_dimension, to_si

mm = 1e-3


def near(value: float) -> object:
    return pytest.approx(value, rel=1e-9, abs=1e-15)


@pytest.mark.parametrize(
    "text", ["30 ±0.03 mm", "30 mm ±0.03 mm", "30 mm ±30 um", "30 +/-0.03 mm", "30,0 ±0,03 mm", "30 mm ±0.1 %",
             "30 mm ±0.03", "30 +0.03/-0.03 mm", "3 cm +0.03 mm/-30 µm", "30 +-0.03mm", "30 mm, ±0.03 mm"]
)  # fmt: skip
def test_one_tolerance_in_many_spellings(text: str) -> None:
    q = parse(text, "mm")
    assert (q.nominal, q.low, q.high) == (near(30 * mm), near(29.97 * mm), near(30.03 * mm))
    assert q.total is not None and q.total.sd == near(0.01 * mm) and q.total.offset == near(0.0)
    assert q.total.shape == "normal" and q.total.source == "sheet"
    assert q.from_tolerance and q.lot is None and q.part is None and q.text == text


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [("2.0 +0.05/-0.08 mm", -0.08, 0.05), ("2.0 -0.08/+0.05 mm", -0.08, 0.05), ("2.0 +0.05/0 mm", 0.0, 0.05),
     ("2.0 0/-0.1 mm", -0.1, 0.0), ("2.0 -0.02/-0.05 mm", -0.05, -0.02), ("2.0 +0.05 -0.08 mm", -0.08, 0.05),
     ("2,0 mm +0,05/-0,08 mm", -0.08, 0.05), ("2.0 mm +50 um/-0.08 mm", -0.08, 0.05)],
)  # fmt: skip
def test_asymmetric_tolerance_moves_the_mean_to_its_middle(text: str, low: float, high: float) -> None:
    q = parse(text, "mm", sigmas=4.0)
    assert (q.low, q.high) == (near((2 + low) * mm), near((2 + high) * mm))
    assert q.total is not None
    assert q.total.sd == near((high - low) / 8 * mm) and q.total.offset == near((high + low) / 2 * mm)


def test_standard_deviations_are_taken_as_stated() -> None:
    for text in ("340 MPa, sd 12 MPa", "340 MPa; sd 12", "340 MPa, sd = 12e6 Pa", "340 N/mm², sd 12 MPa"):
        q = parse(text, "MPa", sigmas=6.0)
        assert q.total is not None and q.total.sd == near(12e6) and not q.from_tolerance and q.low is None
    percent = parse("340 MPa, sd 3 %", "MPa").total
    assert percent is not None and percent.sd == near(10.2e6)


def test_levels() -> None:
    q = parse("30 mm, lot sd 0.01 mm, part ±0.02 mm", "mm")
    assert q.lot and q.lot.sd == near(0.01 * mm) and q.part and q.part.sd == near(0.02 / 3 * mm)
    assert q.total is None and q.low is None and q.from_tolerance
    q = parse("30 ±0.03 mm, lot ±0.01 mm", "mm")
    assert q.lot and q.lot.sd == near(0.01 / 3 * mm) and q.part and q.part.sd == near(0.01 * mm)
    assert q.total is None and q.high == near(30.03 * mm)
    q = parse("30 ±0.03 mm, sd 0.005 mm", "mm")  # the tolerance only limits, the spread is stated
    assert q.total and q.total.sd == near(0.005 * mm) and q.low == near(29.97 * mm) and not q.from_tolerance
    q = parse("30 mm, sd 0.02 mm, lot sd 0.01 mm", "mm")
    assert q.total is None and q.part and q.part.sd == near(0.02 * mm)


def test_range_is_uniform() -> None:
    for text in ("60 to 75 s", "60–75 s", "60 s to 1.25 min", "1 min to 75 s", "60 ... 75 s"):
        q = parse(text, "s")
        assert (q.nominal, q.low, q.high) == (near(67.5), near(60), near(75))
        assert (
            q.total and q.total.shape == "uniform" and q.total.sd == near(15 / math.sqrt(12)) and not q.from_tolerance
        )


def test_temperatures() -> None:
    assert parse("20 degC", "degC").nominal == near(293.15)
    assert parse("68 °F", "degC").nominal == near(293.15)
    assert parse("293.15 K", "degC").nominal == near(293.15)
    for text in ("20 °C ±2 K", "20 ±2 °C", "20 degC ±3.6 degF", "20 degC ±2 delta_degC", "68 degF ±3.6 degF"):
        q = parse(text, "degC")
        assert (q.nominal, q.low, q.high) == (near(293.15), near(291.15), near(295.15)), text
    assert parse("2 K", "delta_degC").nominal == near(2.0)
    assert parse("3.6 delta_degF", "delta_degC").nominal == near(2.0)
    for text, unit in (("2 degC", "delta_degC"), ("2 delta_degC", "degC"), ("20 degC ±5 %", "degC"),
                       ("-300 degC", "degC"), ("20 ±2 K", "degC"), ("20 degC ±2 mm", "degC")):  # fmt: skip
        with pytest.raises(QuantityError):
            parse(text, unit)


def test_pressures_say_gauge_or_absolute() -> None:
    for text in (
        "6 bar gauge ±0.2 bar",
        "6 ±0.2 bar gauge",
        "6 barg ±0.2 bar",
        "6 bar(g) ±0.2 bar",
        "6 bar Gauge, ±20 kPa",
    ):
        q = parse(text, "bar", pressure=True)
        assert (q.nominal, q.low, q.high) == (near(701_325.0), near(681_325.0), near(721_325.0)), text
    for text in ("0.6 MPa abs", "6 bar absolute", "600 kPa abs.", "6 bara"):
        assert parse(text, "bar", pressure=True).nominal == near(6e5)
    assert parse_limits("max 6 bar gauge", "bar", pressure=True) == (None, None, near(701_325.0))
    with pytest.raises(QuantityError, match="gauge or absolute"):
        parse("6 bar", "bar", pressure=True)
    with pytest.raises(QuantityError, match="both gauge and absolute"):
        parse("6 bar gauge abs", "bar", pressure=True)
    with pytest.raises(QuantityError, match="says gauge"):
        parse("0.2 bar gauge", "bar")
    with pytest.raises(QuantityError, match="below vacuum"):
        parse("-2 bar gauge", "bar", pressure=True)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [("0.61", "1", 0.61), ("5 %", "1", 0.05), ("5", "1", 5.0), ("30,5 mm", "mm", 0.0305), ("1.2 in", "mm", 0.03048),
     ("0,123 mm", "mm", 0.123e-3), ("1e3 N", "N", 1e3), ("-217 N", "N", -217.0), ("− 5 N", "N", -5.0),
     ("12 Nm", "J", 12.0), ("5 A/dm2", "A/dm^2", 500.0), ("5 A/dm²", "A/m^2", 500.0), ("1 mil", "mm", 25.4e-6),
     ("60 rpm", "rpm", 2 * math.pi), ("120 parts/h", "1/s", 1 / 30), ("58 HRC", "HRC", 58.0), ("3 pcs", "1", 3.0),
     ("1 1/min", "1/s", 1 / 60), ("36 km/h", "m/s", 10.0), ("32 cSt", "mm^2/s", 32e-6), ("1 A·h", "C", 3600.0)],
)  # fmt: skip
def test_values(text: str, unit: str, value: float) -> None:
    assert parse(text, unit).nominal == near(value)


def test_percent_of_a_ratio() -> None:
    assert parse_limits("5 % ±1 %", "1") == (near(0.04), near(0.05), near(0.06))
    assert parse_limits("5 ±1 %", "%") == (near(0.04), near(0.05), near(0.06))
    assert parse_limits("0.60 ±5 %", "1") == (near(0.57), near(0.60), near(0.63))


@pytest.mark.parametrize(
    ("text", "limits"),
    [("<= 80 N", (None, None, 80.0)), ("≤ 80 N", (None, None, 80.0)), ("max 80 N", (None, None, 80.0)),
     (">= 5 N", (5.0, None, None)), ("≥5N", (5.0, None, None)), ("min. 5 N", (5.0, None, None)),
     ("min 5 N, max 80 N", (5.0, None, 80.0)), ("450 ±60 N", (390.0, 450.0, 510.0)), ("30 N", (None, 30.0, None)),
     ("-70 to -40 N", (-70.0, -55.0, -40.0)), ("30 N, max 0.08 kN", (None, 30.0, 80.0))],
)  # fmt: skip
def test_limits(text: str, limits: tuple[float | None, ...]) -> None:
    assert parse_limits(text, "N") == tuple(x if x is None else near(x) for x in limits)


@pytest.mark.parametrize(
    ("text", "unit", "what", "allowed", "nearest"),
    [("30 kg", "mm", "is a mass", "a length, e.g. mm, in", ""),
     ("30 mn", "mm", "unknown unit", "a length", "mm"),
     ("30 Mpa", "MPa", "unknown unit", "a pressure or stress", "MPa"),
     ("60 Hz", "rpm", "is a frequency", "an angular speed, e.g. rpm", ""),
     ("30", "mm", "has no unit", "a length", ""),
     ("30 ±0.03", "mm", "has no unit", "a length", ""),
     ("0.61", "%", "has no unit", "%", ""),
     ("30 mm ±1 kg", "mm", "is a mass", "a length", ""),
     ("30 mm, sd -1 mm", "mm", "negative standard deviation", "zero or more", ""),
     ("30 ±-1 mm", "mm", "negative tolerance", "zero or more", ""),
     ("75 to 60 s", "s", "from high to low", "lower end first", ""),
     ("max 5 N, min 80 N", "N", "is a limit, not a value", "", ""),
     ("30 +0.1/+0.1 mm", "mm", "without width", "", ""),
     ("1,234 mm", "mm", "in two ways", "decimal point", ""),
     ("1.234,5 mm", "mm", "in two ways", "decimal point", ""),
     ("nan mm", "mm", "not a number", "", ""), ("inf mm", "mm", "not a number", "", ""), ("", "mm", "empty", "", ""),
     ("1e999 mm", "mm", "too large", "", ""), ("1e99 mm", "mm", "too large", "", ""),
     ("30 mm, foo 3", "mm", "clause that cannot be read", "", ""),
     ("30 ±0.1 mm, ±0.2 mm", "mm", "tolerance twice", "", ""),
     ("30 mm, max 29 mm", "mm", "outside its own limits", "", ""),
     ("30 mm, sd 1 mm, lot sd 1 mm, part sd 1 mm", "mm", "at once", "", ""),
     ("10**9**9 mm", "mm", "unknown unit", "", ""), ("1 " + "m" * 300, "mm", "longer than", "", ""),
     ("3 dB", "1", "not proportional", "", ""), ("6 ±5 % bar", "bar", "unknown unit", "", "")],
)  # fmt: skip
def test_faults_speak(text: str, unit: str, what: str, allowed: str, nearest: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text, unit)
    assert what in caught.value.what and allowed in caught.value.allowed
    if nearest:
        assert caught.value.nearest == nearest


def test_a_value_below_a_zero_limit_is_refused() -> None:
    with pytest.raises(QuantityError, match="outside its own limits"):
        parse_limits("-1 N, min 0 N", "N")
    with pytest.raises(QuantityError, match="from high to low"):
        parse_limits("max 5 N, min 80 N", "N")


finite = st.floats(min_value=1e-3, max_value=1e4, allow_nan=False)


@settings(deadline=None)  # the first unit loads pint
@given(finite, st.floats(min_value=1e-4, max_value=1.0))
def test_inch_and_millimetre_sheets_agree(inches: float, width: float) -> None:
    a = parse(f"{inches!r} ±{width!r} in", "mm")
    b = parse(f"{inches * 25.4!r} mm ±{width * 25.4!r} mm", "in")
    for one, other in ((a.nominal, b.nominal), (a.low, b.low), (a.high, b.high)):
        assert one is not None and other is not None
        assert abs(one - other) <= 1e-9 * (abs(other) + width * 0.0254)
    assert a.total and b.total and a.total.sd == pytest.approx(b.total.sd, rel=1e-9)


@settings(deadline=None)  # the first unit loads pint
@given(st.floats(min_value=-1e6, max_value=1e6), st.sampled_from(["mm", "in", "N", "A/dm^2", "1/min", "mPa*s", "%"]))
def test_what_is_printed_can_be_read(value: float, unit: str) -> None:
    text = format_value(to_si(value, unit), unit, digits=12)
    assert parse(text, unit).nominal == pytest.approx(to_si(value, unit), rel=1e-11, abs=1e-300)
    assert from_si(to_si(value, unit), unit) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [(0.03, "mm", "30 mm"), (0.0299812, "mm", "29.98 mm"), (-0.0, "N", "0 N"), (123456.0, "N", "123500 N"),
     (293.15, "degC", "20 degC"), (0.05, "%", "5 %"), (4.0, "1", "4"), (2.1e11, "Pa", "2.1e+11 Pa"),
     (float("nan"), "N", "no value"), (0.99999, "N", "1 N"), (100.0, "N", "100 N")],
)  # fmt: skip
def test_format(value: float, unit: str, text: str) -> None:
    assert format_value(value, unit) == text


def test_same_dimension() -> None:
    assert same_dimension("mm", "in") and same_dimension("degC", "K") and same_dimension("%", "1")
    assert not same_dimension("mm", "s") and not same_dimension("rpm", "Hz")


words = st.sampled_from(
    ["30", "-1", "0", "1,5", "±", "+0.05", "/", "-0.08", "mm", "m", "degC", "%", "bar", "gauge", "abs", "to",
     "lot", "part", "sd", ",", ", sd", ", lot ±", "max", "min", "<=", ">", "(", ")", "^", "^-2", "**", "*", "1/s",
     "e9", "N", "–", "..", "°", "nan", " ", ";", "kg", "²", "٣", "delta"]
)  # fmt: skip


@settings(deadline=None, max_examples=400)
@given(
    st.one_of(
        st.text(max_size=60), st.lists(words, max_size=9).map(" ".join), st.lists(words, max_size=9).map("".join)
    ),
    st.sampled_from(["mm", "degC", "1", "%", "bar", "delta_degC"]),
    st.booleans(),
)
def test_any_text_is_a_quantity_or_a_fault(text: str, unit: str, pressure: bool) -> None:
    for read in (parse, parse_limits):
        try:
            got = read(text, unit, pressure=pressure)
        except QuantityError as fault:
            assert fault.what
            continue
        numbers = [got.nominal, got.low, got.high] if isinstance(got, Quantity) else list(got)
        assert all(n is None or math.isfinite(n) for n in numbers)
        if isinstance(got, Quantity):
            assert all(s is None or s.sd >= 0 for s in (got.total, got.lot, got.part))
            assert got.low is None or got.high is None or got.low <= got.high
