"""State sheets: what they say, and one message for each fault."""

from __future__ import annotations

from fractions import Fraction

import pytest
from plant_cases import example, small

from firstoff.errors import InputFault, Message
from firstoff.line.plant_line import PlantLine
from firstoff.line.state import LineState
from firstoff.line.state_sheet import SECTIONS, read_state
from firstoff.sheets.checker import check
from firstoff.sheets.toml import parse_document

SHEET = """\
[state]
note = "stopped"

[[crane]]
name = "crane"
tank = "3"

[[load]]
name = "bar 1"
tank = "4"
time = "5 min"
weight = 3

[[load]]
name = "bar 2"
crane = "crane"
next = "chrome"
time = "12.3 s"
"""


def state_from(text: str, line: PlantLine) -> LineState:
    settled, messages = check(parse_document(text, "state.toml"), SECTIONS)
    if messages:
        raise InputFault(messages)
    return read_state(settled, line)


def faults(text: str, line: PlantLine) -> list[Message]:
    with pytest.raises(InputFault) as caught:
        state_from(text, line)
    return list(caught.value.messages)


def test_what_a_state_says() -> None:
    state = state_from(SHEET, small())
    assert state.cranes == {0: Fraction("4.4")}
    one, two = state.loads
    assert (one.name, one.step, one.tank, one.since, one.weight) == ("bar 1", 4, "4", 300, 3)
    assert (two.step, two.tank, two.since, two.crane) == (5, "", 13, 0)  # rounded up to the line's step


@pytest.mark.parametrize(
    ("old", "new", "key", "what", "near"),
    [
        ('tank = "4"', 'tank = "44"', "load.tank", "names no tank", "4"),
        ('tank = "4"', 'tank = "L"', "load.tank", "names no tank that treats", ""),
        ('tank = "4"', 'product = "x"\ntank = "4"', "load.product", "names no product", ""),
        ('tank = "4"', 'step = 3\ntank = "4"', "load.step", "is not nickel", ""),
        ('tank = "4"', 'tank = "4"\ncrane = "crane"', "load.tank", "is needed", ""),
        ('next = "chrome"', "", "load.next", "is missing", ""),
        ('next = "chrome"', 'next = "crome"', "load.next", "has no part in the recipe", "chrome"),
        ('name = "bar 2"', 'name = "bar 1"', "load.name", "stands twice", ""),
        ('time = "5 min"', 'time = "5 m"', "load.time", "is a length", ""),
        ('name = "crane"\ntank', 'name = "cran"\ntank', "crane.name", "names no crane", "crane"),
        ('tank = "3"', "", "crane.position", "is needed", ""),
        ('tank = "3"', 'tank = "33"', "crane.tank", "names no tank", "3"),
    ],
)
def test_each_fault_has_a_message(old: str, new: str, key: str, what: str, near: str) -> None:
    assert old in SHEET
    found = [m for m in faults(SHEET.replace(old, new, 1), small()) if m.key == key]
    assert found and what in found[0].what
    assert found[0].line > 0
    if near:
        assert found[0].nearest == near


def test_two_cranes_are_both_needed_and_keep_apart() -> None:
    one = '[[crane]]\nname = "crane 1"\nposition = "10 m"\n'
    assert "says not where crane 2 stands" in faults(one, example())[0].what
    near = one + '[[crane]]\nname = "crane 2"\nposition = "12 m"\n'
    assert "nearer" in faults(near, example())[0].what
    assert state_from(near.replace("12 m", "12.4 m"), example()).cranes == {0: 10, 1: Fraction("12.4")}
