"""Order of stations. The rules are the project's own; no outside source."""

from __future__ import annotations

import pytest
from chain_toys import Toy, linear, toy

from firstoff.chain.order import after, order
from firstoff.errors import InputFault


def names(stations) -> list[str]:
    return [s.name for s in stations]


def messages(stations) -> list[str]:
    with pytest.raises(InputFault) as fault:
        order(stations)
    return [m.as_text() for m in fault.value.messages]


def test_process_order_stays_where_needs_allow():
    a, b, c = Toy("a"), Toy("b", gives=("force",)), Toy("c")
    assert names(order([c, a, b])) == ["c", "a", "b"]


def test_a_station_waits_for_what_it_needs_and_no_longer():
    rig, tube, rod = Toy("rig", needs=("bore",)), Toy("tube", gives=("bore",)), Toy("rod")
    assert names(order([rig, tube, rod])) == ["tube", "rig", "rod"]


def test_another_stations_parameter_is_there_from_the_start():
    rig = Toy("rig", needs=("oil.fill",))
    oil = toy("oil", lambda x: {}, ["fill"])
    assert names(order([rig, oil])) == ["rig", "oil"]


def test_every_fault_is_said_at_once_and_by_name():
    said = messages(
        [
            Toy("tube", gives=("bore", "length")),
            Toy("tube"),
            Toy("rod", gives=("length",)),
            Toy("rig", needs=("boer",)),
            Toy("hood", gives=("oil.fill",)),
            toy("oil", lambda x: {}, ["fill", "fill"]),
        ]
    )
    assert len(said) == 5
    assert "tube: is in the chain twice" in said
    assert "rod: gives `length`, which tube has already; found length" in said
    assert "hood: gives `oil.fill`, which oil has already; found oil.fill" in said
    assert "oil.fill: is declared twice" in said
    assert any(text.startswith("rig: `boer`") and text.endswith("did you mean bore?") for text in said)


def test_circles_are_named_each_once():
    said = messages(
        [
            Toy("a", needs=("c",), gives=("a",)),
            Toy("b", needs=("a",), gives=("b",)),
            Toy("c", needs=("b",), gives=("c",)),
            Toy("self", needs=("own",), gives=("own",)),
            Toy("end", needs=("c",)),
        ]
    )
    assert said == [
        "a: these stations wait for each other: a needs c needs b needs a; found a needs c needs b needs a",
        "self: these stations wait for each other: self needs self; found self needs self",
    ]


def test_after_takes_only_what_depends_on_the_change():
    stations, _ = linear()
    ordered = order(stations)
    assert names(after(ordered, "s1.x")) == ["s1", "rig"]
    assert names(after(ordered, "s1")) == ["s1", "rig"]
    assert names(after(ordered, "s1_y")) == ["rig"]
    assert names(after(ordered, ("s0.x", "s2.x"))) == ["s0", "s2", "rig"]
    assert names(after(ordered, "y")) == []
    assert names(after(ordered, [])) == []


def test_after_reruns_everyone_who_reads_a_parameter():
    oil = toy("oil", lambda x: {}, ["fill"])
    rig = Toy("rig", needs=("oil.fill",))
    assert names(after(order([oil, Toy("rod"), rig]), "oil.fill")) == ["oil", "rig"]


def test_after_refuses_an_unknown_name_with_the_nearest():
    stations, _ = linear()
    with pytest.raises(InputFault) as fault:
        after(order(stations), "s1.xx")
    assert fault.value.messages[0].nearest == "s1.x"
