"""Plant sheets with faults: one message for each, with its line and what is nearest; nothing computed."""

from __future__ import annotations

from fractions import Fraction

import pytest
from plant_cases import example, line_from

from firstoff.errors import InputFault, Message
from firstoff.line.jobs import jobs_of, places_of
from firstoff.line.plant_line import PlantLine

SHEET = """\
[plant]
name = "works"

[line]
name = "line"
travel_speed = "30 m/min"
lift = "8 s"
lower = "8 s"

[[line.tank]]
name = "L"
operation = "load and unload"
position = "0 m"

[[line.tank]]
name = "1"
operation = "rinse"
position = "2 m"

[[line.tank]]
name = "2"
operation = "chrome"
position = "350 cm"
lift = "10.01 s"

[[line.step]]
operation = "rinse"
time = "20 to 60 s"

[[line.step]]
operation = "chrome"
time = "2 to 3 min"
"""


def faults(text: str) -> list[Message]:
    with pytest.raises(InputFault) as caught:
        line_from(text)
    return list(caught.value.messages)


def changed(*pairs: tuple[str, str]) -> str:
    text = SHEET
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new, 1)
    return text


def test_what_a_sheet_says() -> None:
    line = line_from(SHEET)
    assert line.speed == Fraction(1, 2)
    assert line.tank("2").position == Fraction(7, 2)
    assert line.tank("2").lift == Fraction(101, 10)  # rounded up to the step
    assert [(s.least, s.most) for s in line.products[0].steps] == [(20, 60), (120, 180)]
    assert [c.name for c in line.cranes] == ["crane"]


@pytest.mark.parametrize(
    ("old", "new", "key", "what", "near"),
    [
        ('operation = "rinse"\ntime', 'operation = "rinze"\ntime', "line.step.operation", "names no", "rinse"),
        ('time = "20 to 60 s"', 'time = "20 s"', "line.step.time", "is no window", ""),
        ('time = "20 to 60 s"', 'time = "20 to 60 mm"', "line.step.time", "is a length", "ms"),
        ('time = "20 to 60 s"', 'time = "20.01 to 20.02 s"', "line.step.time", "holds no whole multiple", ""),
        ('time = "2 to 3 min"', 'time = "2 to 3 min"\nramp = "130 s"', "line.step.ramp", "do not fit", ""),
        ('name = "2"', 'name = "1"', "line.tank.name", "stands twice", ""),
        ('name = "2"', 'name = "2"\nbus = "b"', "line.tank.bus", "names a bus", ""),
        ('name = "2"', 'name = "2"\nturnaround = "9 s"', "line.tank.turnaround", "belongs to a load place", ""),
        ('name = "2"', 'name = "2"\npositon = "1 m"', "line.tank.positon", "is not a key", "position"),
        ('"load and unload"', '"unload"', "line.tank", "needs places to load and to unload", ""),
        ('travel_speed = "30 m/min"', 'travel_speed = "30 m"', "line.travel_speed", "is a length", ""),
        ("[[line.step]]", '[[line.measured]]\nfrom = "1"\nto = "3"\n[[line.step]]', "line.measured",
         "states no time", ""),
        ("[[line.step]]", '[[line.bus]]\nname = "b"\ncurrent = "5 V"\n[[line.step]]', "line.bus.current",
         "is a voltage", ""),
        ("[[line.step]]", '[[line.air_limit]]\nfrom = "rinse"\nto = "crome"\ntime = "9 s"\n[[line.step]]',
         "line.air_limit.to", "names no operation", "chrome"),
        ("[[line.step]]", '[[line.air_limit]]\nfrom = "rinse"\nto = "chrome"\ntime = "18 s"\n[[line.step]]',
         "line.air_limit.time", "cannot be kept: lift, drip, travel and lower take at least 19 s", ""),
        ("[[line.step]]", '[[line.product]]\nname = "a"\n[[line.product]]\nname = "b"\n[[line.step]]',
         "line.step.product", "is missing: there are several", ""),
        ("[[line.step]]", '[[line.crane]]\nname = "c"\nfrom = "3 m"\nto = "2 m"\n[[line.step]]', "line.crane.to",
         "does not lie beyond", ""),
        ("[[line.step]]", '[[line.crane]]\nname = "c"\nto = "3 m"\n[[line.step]]', "line.step.operation",
         "no crane reaches both rinse and chrome", ""),
        ("[[line.step]]", '[[line.crane]]\nname = "c"\n[[line.crane]]\nname = "d"\n[[line.step]]', "line.separation",
         "is missing: two cranes need one", ""),
    ],
)  # fmt: skip
def test_each_fault_has_a_message_with_its_line(old: str, new: str, key: str, what: str, near: str) -> None:
    found = [m for m in faults(changed((old, new))) if m.key == key]
    assert found, faults(changed((old, new)))
    assert what in found[0].what
    assert found[0].nearest == near
    assert found[0].file == "plant.toml"
    assert found[0].line > 3


def test_all_faults_are_told_at_once() -> None:
    text = changed(('time = "20 to 60 s"', 'time = "20 s"'), ('name = "2"', 'name = "1"\nbus = "x"'))
    assert [m.key for m in faults(text)] == ["line.tank.name", "line.tank.bus", "line.step.time"]


def test_a_sheet_without_a_line_says_so() -> None:
    assert "no plating line" in faults('[plant]\nname = "works"\n')[0].what


def grouped(line: PlantLine) -> list[tuple[str, list[str], tuple[int, ...]]]:
    return [(p.operation, [t.name for t in p.tanks], p.cranes) for p in places_of(line)]


def test_duplicates_side_by_side_are_one_place() -> None:
    found = {names[0]: (operation, names, cranes) for operation, names, cranes in grouped(example())}
    assert found["7"] == ("semi-bright nickel", ["7", "8", "9", "10"], (0, 1))
    assert found["1"] == ("soak clean", ["1", "2"], (0,))  # crane 2 begins at 8 m


def test_the_other_crane_leaves_less_of_the_track() -> None:
    # crane 2 begins at 8 m, so crane 1 is kept from nothing; crane 1 begins at the end of the track, with no limit
    line = example()
    assert line.reach(0) == (None, Fraction(22))
    assert line.reach(1) == (Fraction(8), None)
    walled = line_from(SHEET.replace("[[line.step]]", WALLS + "[[line.step]]", 1).replace(
        'lift = "8 s"', 'lift = "8 s"\nseparation = "1 m"', 1))  # fmt: skip
    assert walled.reach(0) == (Fraction(-1), Fraction(3))
    assert walled.reach(1) == (Fraction(0), Fraction(4))


WALLS = """\
[[line.crane]]
name = "a"
from = "-1 m"
to = "20 m"

[[line.crane]]
name = "b"
from = "-3 m"
to = "4 m"

"""


def test_a_tank_out_of_service_that_was_the_only_one() -> None:
    with pytest.raises(InputFault) as caught:
        jobs_of(example().without(("15",)))
    assert [m.what for m in caught.value.messages] == ["no tank is left for chrome"]
