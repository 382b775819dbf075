"""What the sheets ask of the first-offs: how sure, how many there are, what is lost by measuring it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any

from firstoff.chain.station import Characteristic
from firstoff.errors import nearest
from firstoff.families import Family
from firstoff.methods.sampling_plans import attribute_plan
from firstoff.sheets.quantity import Quantity, QuantityError, parse
from firstoff.trials.gauges import Gauge
from firstoff.trials.test_plan import Ask, in_order

if TYPE_CHECKING:
    from firstoff.launch.job import Judging, _Sheet

KINDS_OF_LIFE = ("1", "s", "m")  # cycles, hours, kilometres
LEVEL = "II"  # inspection level of ISO 2859-1 unless the sheet says otherwise


@dataclass(frozen=True)
class LifeTest:
    """A life test without failure. life and run in one SI unit."""

    name: str
    what: str
    life: float
    run: float
    run_text: str
    reliability: float
    confidence: float
    shape: float
    destructive: bool = True


@dataclass(frozen=True)
class AttributeCheck:
    """A check that only says good or bad, by a single normal plan."""

    name: str
    what: str
    lot: int
    level: str
    aql: float


@dataclass(frozen=True)
class FirstOffs:
    """What is asked of the first-offs; the defaults are used when the sheet is silent, and the plan says so."""

    confidence: float = 0.95
    inside: float = 0.95
    chance: float | None = None
    parts: int | None = None
    lots: int = 1
    assumed: tuple[str, ...] = ()
    expected: Mapping[str, Quantity] = field(default_factory=dict)  # of characteristics, where the sheet knows more
    destructive: Mapping[str, str] = field(default_factory=dict)  # characteristic -> test in which the part is lost
    spoils: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    life: tuple[LifeTest, ...] = ()
    checks: tuple[AttributeCheck, ...] = ()


def read_first_offs(
    model: _Sheet, plant: _Sheet | None, family: Family | None, characteristics: Mapping[str, Characteristic],
    gauges: Mapping[str, Gauge], judging: Judging,
) -> FirstOffs:  # fmt: skip
    """The sheets' wishes, defaults put in and listed; faults are noted on the sheet."""
    said = model.settled.get("first_offs", {})
    shares = {key: said[key].nominal for key in ("confidence", "inside", "chance") if key in said}
    assumed = []
    for key, default in (("confidence", judging.confidence), ("inside", judging.coverage)):
        if key not in shares:
            shares[key] = default
            assumed.append(f"first_offs.{key}: {100 * default:g} % assumed, as [judging] asks of a lot")
    for key, default in (("lots", 1),):
        if key not in said:
            assumed.append(f"first_offs.{key}: {default} assumed")
    rows = model.settled.get("characteristics", {})
    lost = _destructive(rows, plant, family, characteristics, gauges)
    spoils = _spoils(model, rows, characteristics)
    return FirstOffs(
        shares["confidence"], shares["inside"], shares.get("chance"), said.get("parts"), said.get("lots", 1),
        tuple(assumed), _expected(model, rows), lost, spoils, tuple(_life(model, shares["confidence"])),
        tuple(_checks(model)),
    )  # fmt: skip


def _expected(model: _Sheet, rows: Mapping[str, Any]) -> dict[str, Quantity]:
    found = {}
    for name, row in rows.items():
        if "expected" not in row or "unit" not in row:
            continue
        where = f"characteristics/{name}"
        value = model.attempt(where, "expected", partial(parse, row["expected"], row["unit"]))
        if value is not None and not (value.total or value.part):
            model.fault(
                where, "expected", "has no scatter", found=row["expected"], allowed='e.g. "0.02 mm, sd 0.006 mm"'
            )
        elif value is not None:
            found[name] = value
    return found


def _destructive(
    rows: Mapping[str, Any], plant: _Sheet | None, family: Family | None,
    characteristics: Mapping[str, Characteristic], gauges: Mapping[str, Gauge],
) -> dict[str, str]:  # fmt: skip
    """Characteristic -> name of the test in which the part is lost: its gauge's, its measurement's or its own."""
    lost: dict[str, str] = {}
    measurements = family.measurements if family else ()
    stated = plant.settled.get("measurements", {}) if plant else {}
    gauged = {name for gauge in gauges.values() for name in gauge.characteristics}
    for m in measurements:
        if stated.get(m.name, {}).get("destructive", m.destructive):
            lost |= {r.name: m.title for r in m.reads if r.name in characteristics and r.name not in gauged}
    for m in measurements:  # what can also be read without loss is read so
        if not stated.get(m.name, {}).get("destructive", m.destructive):
            for r in m.reads:
                lost.pop(r.name, None)
    for index, row in enumerate(plant.settled.get("gauge", []) if plant else ()):
        if row.get("destructive"):
            of = [g for key, g in gauges.items() if key.startswith(f"{index}: ")]
            lost |= {name: g.name for g in of for name in g.characteristics if name in characteristics}
    for name, row in rows.items():
        if row.get("destructive"):
            lost.setdefault(name, name)
        elif row.get("destructive") is False:
            lost.pop(name, None)
    return lost


def _spoils(
    model: _Sheet, rows: Mapping[str, Any], characteristics: Mapping[str, Characteristic]
) -> dict[str, tuple[str, ...]]:
    spoils: dict[str, tuple[str, ...]] = {}
    for name, row in rows.items():
        names = tuple(row.get("spoils", "").replace(",", " ").split())
        for other in names:
            if other not in characteristics:
                what = "names no characteristic of this sheet"
                model.fault(
                    f"characteristics/{name}", "spoils", what, found=other, nearest=nearest(other, characteristics)
                )
        spoils |= {name: names} if names else {}
    try:
        in_order([Ask(name, 1, spoils=of) for name, of in {**dict.fromkeys(characteristics, ()), **spoils}.items()])
    except ValueError as error:
        first = next(iter(spoils))
        model.fault(f"characteristics/{first}", "spoils", str(error), allowed="an order in which all can be read")
    return spoils


def _life(model: _Sheet, confidence: float) -> list[LifeTest]:
    found = []
    for index, row in enumerate(model.settled.get("life_test", [])):
        where = f"life_test/{index}"
        if not {"name", "life", "run", "reliability", "shape"} <= set(row):
            continue  # refused already
        times = [_time(model, where, key, row[key]) for key in ("life", "run")]
        if None in times:
            continue
        (life, kind), (run, other) = (t for t in times if t is not None)
        if kind != other:
            model.fault(where, "run", "is of another kind than life", found=row["run"], allowed=f"as {row['life']}")
            continue
        asked = row["confidence"].nominal if "confidence" in row else confidence
        found.append(LifeTest(row["name"], row.get("what", ""), life, run, row["run"], row["reliability"].nominal,
                              asked, row["shape"], row.get("destructive", True)))  # fmt: skip
    return found


def _time(model: _Sheet, where: str, key: str, text: str) -> tuple[float, str] | None:
    """A life in SI and its kind, or None with the fault noted."""
    for unit in KINDS_OF_LIFE:
        try:
            value = parse(text, unit).nominal
        except QuantityError:
            continue
        if value > 0.0:
            return value, unit
    model.fault(where, key, "is no life", found=text, allowed='cycles, a time or a distance: "300000 cycles", "500 h"')
    return None


def _checks(model: _Sheet) -> list[AttributeCheck]:
    found = []
    for index, row in enumerate(model.settled.get("attribute_check", [])):
        if not {"name", "lot", "aql"} <= set(row):
            continue
        level = row.get("level", LEVEL)
        try:
            attribute_plan(row["lot"], level, row["aql"])
        except ValueError as error:
            model.fault(f"attribute_check/{index}", "aql", f"gives no plan: {error}", found=f"{row['aql']:g}")
            continue
        found.append(AttributeCheck(row["name"], row.get("what", ""), row["lot"], level, row["aql"]))
    return found
