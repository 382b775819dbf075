"""Traceability against a plain walk in Python, and through a plant's real steps."""

from __future__ import annotations

import random
from collections import defaultdict

import pytest

from firstoff.errors import InputFault
from firstoff.records import Batch, Records, Signer, append, find_item, item, part_item, trace_down, trace_up

BUMPER = [
    ("coil heat:H-4711", "blank lot:B-1", "cut from"),
    ("blank lot:B-1", "rack:R-9", "hung on"),
    ("bath fill:Ni-3", "rack:R-9", "plated in"),
    ("rack:R-9", "bar:9-1", "carried"),
    ("rack:R-9", "bar:9-2", "carried"),
    ("gauge:thickness 1", "bar:9-1", "read with"),
    ("person:Anna Example", "bar:9-1", "recorded by"),
]


def recorded(records: Records, anna: Signer, edges: list[tuple[str, str, str]]) -> None:
    batch = Batch("genealogy")
    ends = dict.fromkeys(end for parent, child, _ in edges for end in (parent, child))
    batch.add_rows("items", [(end, *end.split(":", 1), None) for end in ends])
    batch.add_rows("edges", [(*edge, "") for edge in edges])
    append(records, batch, anna)


def test_from_heat_to_bar_and_back(records: Records, anna: Signer) -> None:
    recorded(records, anna, BUMPER)
    down = trace_down(records, "coil heat:H-4711")
    assert down.items == ["bar:9-1", "bar:9-2", "blank lot:B-1", "rack:R-9"]
    assert down.kinds == {"bar": 2, "blank lot": 1, "rack": 1}
    up = trace_up(records, "bar:9-1")
    assert up.items == [
        "bath fill:Ni-3", "blank lot:B-1", "coil heat:H-4711", "gauge:thickness 1", "person:Anna Example", "rack:R-9",
    ]  # fmt: skip
    assert {e.how for e in up.edges} == {"cut from", "hung on", "plated in", "carried", "read with", "recorded by"}
    assert trace_up(records, "coil heat:H-4711").edges == ()
    assert find_item(records, "H-4711") == "coil heat:H-4711"
    assert find_item(records, "bar:9-2") == "bar:9-2"
    with pytest.raises(InputFault, match="did you mean H-4711"):
        find_item(records, "H-4712")
    assert part_item("L1", "FO-01") == item("part", "L1/FO-01")


def test_names_that_several_items_have(records: Records, anna: Signer) -> None:
    parts = [("L1", "FO-01"), ("L2", "FO-01"), ("L2", "F_2"), ("L2", "FX2")]
    recorded(records, anna, [(item("lot", lot), part_item(lot, part), "is of") for lot, part in parts])
    with pytest.raises(InputFault, match="several items.*part:L1/FO-01, part:L2/FO-01"):
        find_item(records, "FO-01")
    assert find_item(records, "F_2") == "part:L2/F_2"  # no pattern


def test_a_circle_ends(records: Records, anna: Signer) -> None:
    recorded(records, anna, [("a:1", "a:2", ""), ("a:2", "a:3", ""), ("a:3", "a:1", "")])
    assert trace_down(records, "a:1").items == ["a:2", "a:3"]
    assert trace_up(records, "a:1").items == ["a:2", "a:3"]


def test_random_genealogies_against_a_plain_walk(records: Records, anna: Signer) -> None:
    draw = random.Random(2)
    edges = list({(f"x:{a}", f"x:{b}", "") for a, b in (sorted(draw.sample(range(120), 2)) for _ in range(240))})
    recorded(records, anna, edges)
    children, parents = defaultdict(set), defaultdict(set)
    for parent, child, _ in edges:
        children[parent].add(child)
        parents[child].add(parent)
    for start in ("x:0", "x:30", "x:60", "x:119"):
        for found, step in ((trace_down(records, start), children), (trace_up(records, start), parents)):
            seen, open_ends = set(), [start]
            while open_ends:
                for end in step[open_ends.pop()] - seen:
                    seen.add(end)
                    open_ends.append(end)
            assert set(found.items) == seen
            assert len(found.edges) == len(set(found.edges)) == sum(len(step[i]) for i in {start, *seen})
