"""Numbers and tables as the shop reads them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from firstoff.errors import InputFault
from firstoff.report.tables import number, op_label, plain, probability, share, table


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (-0.0, "0"),
        (0.5, "0.5"),
        (1.23456, "1.235"),
        (-1.23456, "-1.235"),
        (1.0005, "1.001"),  # half up, as on paper, although the float lies under the half
        (999.96, "1000"),
        (12345.6, "12346"),
        (123456.7, "123457"),
        (999999.7, "1e6"),
        (12345678.0, "12.35e6"),
        (0.00123456, "0.001235"),
        (0.000123456, "123.5e-6"),
        (8e-12, "8e-12"),
        (2000, "2000"),
        (1200000, "1200000"),
        (None, "–"),
        (math.nan, "–"),
        (-math.inf, "-∞"),
        (1.7e308, "170e306"),
        (5e-324, "5e-324"),
    ],
)
def test_number_is_written_in_engineering_notation(value: float | None, text: str) -> None:
    """Source: common practice; exponents in steps of three as the SI prefixes (SI Brochure, 9th ed., table 7)."""
    assert number(value) == text


@given(st.floats(-1e300, 1e300), st.integers(2, 9))
def test_number_reads_back_within_its_digits(value: float, digits: int) -> None:
    """Source: closed form, half a unit of the last significant digit."""
    text = number(value, digits)
    assert float(text) == pytest.approx(value, rel=0.5000001 * 10.0 ** (1 - digits), abs=5e-324)
    if "e" in text:
        mantissa, exponent = text.split("e")
        assert int(exponent) % 3 == 0
        assert 1.0 <= abs(float(mantissa)) < 1000.0


@pytest.mark.parametrize(
    ("p", "text"),
    [
        (0.0013, "0.13 %"),
        (0.9987, "99.87 %"),
        (0.5, "50 %"),
        (0.0456, "4.6 %"),
        (0.00999, "1.0 %"),
        (12e-6, "12 ppm"),
        (37e-6, "37 ppm"),
        (0.00099, "990 ppm"),
        (1.2e-7, "0.12 ppm"),
        (1e-9, "< 0.01 ppm"),
        (0.99999999, "> 99.9999 %"),
        (0.0, "0 %"),
        (1.0, "100 %"),
        (math.nan, "–"),
    ],
)
def test_share_has_the_digits_that_matter(p: float, text: str) -> None:
    """Source: common practice; 0.13 % beyond three standard deviations on one side is the usual normal table's."""
    assert share(p) == text


def test_bounds_of_a_share_never_claim_too_much() -> None:
    """Source: closed form; no reject in n builds gives the 95 % upper bound 1 - 0.05^(1/n)."""
    bound = 1.0 - 0.05 ** (1.0 / 81920.0)  # 36.57 ppm
    assert share(bound, bound="<") == "< 37 ppm"
    assert share(bound, bound=">") == "> 36 ppm"
    assert share(37e-6, bound="<") == "< 37 ppm"
    assert share(0.9712, bound=">") == "> 97.1 %"
    assert share(0.0, bound="<") == "0 %"
    assert share(1.0, bound=">") == "100 %"


@given(st.floats(1e-8, 1.0 - 1e-6))
def test_bounds_lie_on_their_own_side(p: float) -> None:
    """Source: closed form."""

    def back(text: str) -> float:
        figure, unit = text.lstrip("<> ").split()
        return float(figure) * {"%": 1e-2, "ppm": 1e-6}[unit]

    assert back(share(p, bound="<")) >= p * (1.0 - 1e-12)
    assert back(share(p, bound=">")) <= p * (1.0 + 1e-12)


@pytest.mark.parametrize(
    ("p", "text"),
    [
        (0.98, "0.98"),
        (0.5, "0.50"),
        (0.9994, "> 0.999"),
        (1.0, "> 0.999"),
        (0.999, "0.999"),
        (0.9951, "0.995"),
        (0.004, "0.004"),
        (0.0, "< 0.001"),
        (math.nan, "–"),
    ],
)
def test_probability_is_never_certain(p: float, text: str) -> None:
    """Source: common practice, no source."""
    assert probability(p) == text


@pytest.mark.parametrize("wrong", [-0.01, 1.01, math.inf])
def test_what_is_no_fraction_is_refused(wrong: float) -> None:
    for say in (share, probability):
        with pytest.raises(InputFault) as fault:
            say(wrong)
        assert fault.value.messages[0].allowed == "0 to 1"


def test_table_aligns_numbers_to_the_right_and_text_to_the_left() -> None:
    """Source: written out by hand."""
    text = table(["op", "station", "rejects"], [[10, "Press", "0.13 %"], [110, "Weld", "< 37 ppm"], [20, "Fill", None]])
    assert text.split("\n") == [
        " op  station   rejects",
        "───  ───────  ────────",
        " 10  Press      0.13 %",
        "110  Weld     < 37 ppm",
        " 20  Fill            –",
    ]


def test_table_formats_floats_and_numpy_scalars_alike() -> None:
    body = table(["x"], [[1.23456], [np.float64(1.23456)], [np.int64(7)], [True]]).split("\n")[2:]
    assert [line.strip() for line in body] == ["1.235", "1.235", "7", "yes"]


def test_wide_letters_count_two_cells() -> None:
    """Source: Unicode Standard Annex 11, East Asian Width: a wide letter takes two cells, a combining mark none."""
    rows = table(["name", "n"], [["鍍鉻", 1], ["abcd", 2], ["e\u0301tau", 3]]).split("\n")[2:]
    assert rows == ["鍍鉻  1", "abcd  2", "e\u0301tau  3"]


@given(
    st.lists(st.lists(st.text(max_size=40), min_size=3, max_size=3), max_size=5),
    st.integers(2, 60),
)
def test_no_line_is_wider_than_asked_and_no_word_is_lost(rows: list[list[str]], width: int) -> None:
    """Source: closed form: wrapping keeps every letter and breaks no limit."""
    text = table(["what", "value", "remark"], rows, width=width)
    assert all(cell_len(line) <= width for line in text.split("\n"))
    for letter in "ab0":
        said = sum(plain(cell).count(letter) for row in rows for cell in row)
        heads = sum(h.count(letter) for h in ("what", "value", "remark"))
        assert text.count(letter) in (said + heads, said + heads * max(len(rows), 1))


def test_numbers_are_never_broken() -> None:
    text = table(["a long heading of a number", "text"], [[123456.0, "some words that must give way"]], width=24)
    assert "123456" in text
    assert all(cell_len(line) <= 24 for line in text.split("\n"))


def test_escape_sequences_do_not_reach_the_terminal() -> None:
    """Source: ECMA-48, control sequences begin with ESC (1B) or CSI (9B)."""
    text = table(["part"], [["\x1b[31mP1\x1b[0m\x9b2J\u202eP2"]])
    assert not {"\x1b", "\x9b", "\u202e"} & set(text)
    assert "P1" in text


def test_a_row_of_another_length_is_refused_with_every_row_named() -> None:
    with pytest.raises(InputFault) as fault:
        table(["a", "b"], [["1"], ["1", "2"], ["1", "2", "3"]])
    assert [m.found for m in fault.value.messages] == ["1", "3"]


def test_op_label() -> None:
    assert [op_label(x) for x in (10, "20", "op 30", "rig")] == ["op 10", "op 20", "op 30", "rig"]
