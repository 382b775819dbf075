"""Traceability both ways: what an item was made from and by whom, and everything that came of it.

An item is called `kind:name`, e.g. `coil heat:H-4711`, `gauge:damping rig 2`, `part:L1/FO-01`. An edge leads from what
was there first to what came of it.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict, dataclass
from typing import Any

from sqlalchemy import select, text

from firstoff.errors import InputFault, Message, nearest
from firstoff.records.schema import tables
from firstoff.records.store import Records

# UNION, not UNION ALL: an item is looked at once, so that even a circle ends
_WALK = """
WITH RECURSIVE walk(item) AS (
  SELECT CAST(:item AS TEXT) UNION SELECT e.{to} FROM walk JOIN edges e ON e.{at} = walk.item
)
SELECT e.parent, e.child, e.how, e.time, e.entry FROM walk JOIN edges e ON e.{at} = walk.item
"""


@dataclass(frozen=True)
class Edge:
    """One came of the other."""

    parent: str
    child: str
    how: str
    time: str
    entry: int  # of the records, where it stands


@dataclass(frozen=True)
class Trace:
    """What was found from one item on, in one direction."""

    item: str
    down: bool
    edges: tuple[Edge, ...]

    @property
    def items(self) -> list[str]:
        """Every item found, nearest kinds together; without the one from which the search began."""
        ends = {e.child if self.down else e.parent for e in self.edges} - {self.item}
        return sorted(ends)

    @property
    def kinds(self) -> dict[str, int]:
        """kind -> how many."""
        return dict(Counter(kind_of(item) for item in self.items).most_common())

    def as_dict(self) -> dict[str, Any]:
        return {"item": self.item, "down": self.down, "kinds": self.kinds, "items": self.items,
                "edges": [asdict(e) for e in self.edges]}  # fmt: skip


def item(kind: str, name: str) -> str:
    """How an item is called."""
    return f"{kind}:{name}"


def part_item(lot: str, part: str) -> str:
    """A part; its lot tells it from parts of the same number."""
    return item("part", f"{lot}/{part}" if lot else part)


def kind_of(item: str) -> str:
    return item.split(":", 1)[0]


def trace_up(records: Records, item: str) -> Trace:
    """What the item was made from, through all steps, with the gauges, rigs and persons that had to do with it."""
    return _trace(records, item, down=False)


def trace_down(records: Records, item: str) -> Trace:
    """Everything that came of the item: the parts affected when it was bad."""
    return _trace(records, item, down=True)


def _trace(records: Records, item: str, down: bool) -> Trace:
    at, to = ("parent", "child") if down else ("child", "parent")
    with records.reading() as connection:
        if records.on_server:  # every step is a look-up by index, whatever the planner's guess at the number of steps
            connection.execute(text("SET LOCAL enable_hashjoin = off"))
            connection.execute(text("SET LOCAL enable_mergejoin = off"))
        rows = connection.execute(text(_WALK.format(at=at, to=to)), {"item": item}).all()
    edges = dict.fromkeys(Edge(r[0], r[1], r[2] or "", r[3] or "", int(r[4])) for r in rows)
    return Trace(item, down, tuple(edges))


def find_item(records: Records, words: str) -> str:
    """The item meant by its whole name `kind:name`, or by its name alone. InputFault when none is, or several are."""
    edges, items = tables["edges"], tables["items"]
    with records.reading() as connection:
        exact = None
        for column in (items.c.item, edges.c.parent, edges.c.child):
            exact = exact or connection.execute(select(column).where(column == words).limit(1)).scalar()
        if exact is not None:
            return str(exact)
        named = (
            connection.execute(select(items.c.item).where(items.c.name == words).distinct().limit(20)).scalars().all()
        )
        if not named:
            named = connection.execute(
                select(items.c.item).where(items.c.kind == "part", items.c.item.like(f"%/{_plain(words)}", escape="\\"))
                .distinct().limit(20)
            ).scalars().all()  # fmt: skip
        known = connection.execute(select(items.c.item).distinct().limit(5000)).scalars().all() if not named else []
    if len(named) == 1:
        return str(named[0])
    if named:
        raise InputFault([Message("is the name of several items", key="ITEM", found=words, allowed=", ".join(named))])
    near = nearest(words, known) or nearest(words, [k.split(":", 1)[1] for k in known])
    raise InputFault([Message("is no item of the records", key="ITEM", found=words, allowed="kind:name", nearest=near)])


def _plain(words: str) -> str:
    return words.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")
