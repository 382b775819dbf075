"""Affected: which parts a lot went into, what it was made from, and what else that went into, by the records."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any

from firstoff.records import Records, item, trace_down, trace_up
from firstoff.records.trace import kind_of

BESIDE = ("gauge", "person")  # kinds that had to do with a part, but are no material of it


@dataclass(frozen=True)
class Origin:
    """Something that a lot was made from, and how many parts and lots carry it."""

    item: str
    parts: tuple[str, ...]
    lots: tuple[str, ...]


@dataclass(frozen=True)
class Affected:
    """What the records say of an item. All names are `kind:name`."""

    item: str
    parts: tuple[str, ...]  # everything it went into, as far as that are parts
    others: tuple[str, ...]  # what else came of it: racks, pallets, lots
    origins: tuple[Origin, ...]  # what it was made from

    @property
    def known(self) -> bool:
        """Whether the records hold anything of it."""
        return bool(self.parts or self.others or self.origins)

    def as_dict(self) -> dict[str, Any]:
        return asdict(self)


def affected_by(records: Records, name: str) -> Affected:
    """Every part that an item (`lot:L1`) went into, and the same of each thing that it was made from."""
    down = trace_down(records, name).items
    origins = []
    for origin in trace_up(records, name).items:
        if kind_of(origin) in BESIDE:
            continue
        of = trace_down(records, origin).items
        origins.append(Origin(origin, _of(of, "part"), _of(of, "lot")))
    others = tuple(i for i in down if kind_of(i) not in ("part", *BESIDE))
    return Affected(name, _of(down, "part"), others, tuple(origins))


def lot_affected(records: Records, lot: str) -> Affected:
    """The same of a lot by its name."""
    return affected_by(records, item("lot", lot))


def affected_lots(records: Records, lots: Iterable[str]) -> dict[str, Affected]:
    """The same of several lots, by name; one without a name is left out."""
    return {lot: lot_affected(records, lot) for lot in lots if lot}


def _of(items: list[str], kind: str) -> tuple[str, ...]:
    return tuple(i for i in items if kind_of(i) == kind)
