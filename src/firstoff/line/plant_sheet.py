"""Read a plating line out of a checked plant sheet; every fault is named with its line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from math import floor
from typing import Any

from firstoff.errors import InputFault, Message, nearest
from firstoff.line.plant_line import (
    LOAD,
    SHARED,
    STATIONS,
    UNLOAD,
    ZERO,
    AirLimit,
    Crane,
    Measured,
    PlantLine,
    Product,
    Step,
    Tank,
)
from firstoff.line.travel import rounded_up
from firstoff.sheets.checker import Settled
from firstoff.sheets.quantity import QuantityError, parse, parse_limits

MOST_CRANES = 2
TIME_STEP = Fraction(1, 10)
WINDOW = '"180 to 300 s", "60 ±5 s", "min 20 s", "exactly 10 s"'
EXACTLY = "exactly "


def exact(value: float) -> Fraction:
    """The decimal an engineer wrote, to a millionth of the SI unit."""
    return Fraction(round(value * 10**6), 10**6)


def window(text: str) -> tuple[float | None, float | None]:
    """Least and most time [s] of an immersion; a time alone is no window unless it says "exactly"."""
    if text.lower().startswith(EXACTLY):
        time = parse(text[len(EXACTLY) :], "s").nominal
        return time, time
    low, _, high = parse_limits(text, "s")
    return low, high


class _Reader:
    def __init__(self, settled: Settled) -> None:
        self.settled = settled
        self.messages: list[Message] = []
        head = settled["line"]
        self.step = exact(head["time_step"].nominal) if "time_step" in head else TIME_STEP

    def rows(self, part: str) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = self.settled.get(f"line.{part}", [])
        return found

    def fault(self, part: str, index: int | None, key: str, what: str, **more: str) -> None:
        section = f"line.{part}" if part else "line"
        at = (key,) if index is None else (index, key)
        line = self.settled.line(section, *(a for a in at if a != ""))
        self.messages.append(
            Message(what, self.settled.document.file, line, f"{section}.{key}" if key else section, **more)
        )

    def time(self, row: Mapping[str, Any], key: str, default: Fraction = ZERO) -> Fraction:
        """A time the crane or the load takes: rounded up."""
        return rounded_up(exact(row[key].nominal), self.step) if key in row else default

    def names(self, part: str) -> list[str]:
        """The names of a repeated section, doubles faulted."""
        seen: list[str] = []
        for i, row in enumerate(self.rows(part)):
            name = row.get("name", "")
            if name and name in seen:
                self.fault(part, i, "name", "stands twice", found=f'"{name}"')
            seen.append(name)
        return seen

    def known(self, part: str, index: int, key: str, name: str, names: Sequence[str], what: str) -> bool:
        if name in names:
            return True
        distinct = list(dict.fromkeys(names))
        shown = ", ".join(distinct[:12]) + (", ..." if len(distinct) > 12 else "")
        self.fault(part, index, key, f"names no {what}", found=f'"{name}"', allowed=shown,
                   nearest=nearest(name, distinct))  # fmt: skip
        return False


def read_line(settled: Settled) -> PlantLine:
    """The plating line of a sheet that the checker found no fault in. Raises InputFault with every further fault."""
    if "line" not in settled:
        raise InputFault([Message("describes no plating line", settled.document.file, allowed="[line]")])
    reader = _Reader(settled)
    head = settled["line"]
    tanks = _tanks(reader)
    line = PlantLine(
        name=head["name"],
        tanks=tanks,
        cranes=_cranes(reader),
        products=_products(reader, tanks),
        speed=exact(head["travel_speed"].nominal),
        acceleration=exact(head["acceleration"].nominal) if "acceleration" in head else None,
        separation=exact(head["separation"].nominal) if "separation" in head else ZERO,
        bars=head.get("flight_bars"),
        air=_air(reader, tanks),
        buses=_buses(reader, tanks),
        measured=_measured(reader, [t.name for t in tanks]),
        time_step=reader.step,
        slack=reader.time(head, "slack"),
    )
    if not reader.messages:
        _crossed(reader, line)
    if reader.messages:
        raise InputFault(sorted(reader.messages, key=lambda m: m.line))
    return line


def _tanks(reader: _Reader) -> tuple[Tank, ...]:
    reader.names("tank")
    head = reader.settled["line"]
    if not reader.rows("tank"):
        reader.fault("", None, "", "has no tanks", allowed="[[line.tank]], one entry a tank and load place")
    tanks = []
    for i, row in enumerate(reader.rows("tank")):
        times = {key: reader.time(row, key, reader.time(head, key)) for key in ("lift", "drip", "lower")}
        operation = row["operation"]
        near = nearest(operation, STATIONS)
        if operation not in STATIONS and near and operation.lower().replace("/", " and ") == near:
            reader.fault("tank", i, "operation", "is written otherwise", found=operation, nearest=near)
        if "turnaround" in row and operation not in STATIONS:
            reader.fault("tank", i, "turnaround", "belongs to a load place", allowed=", ".join(STATIONS))
        tanks.append(
            Tank(row["name"], operation, exact(row["position"].nominal), **times,
                 turnaround=reader.time(row, "turnaround"), bus=row.get("bus", ""))
        )  # fmt: skip
    kinds = {t.operation for t in tanks} & set(STATIONS)
    if tanks and kinds not in ({SHARED}, {LOAD, UNLOAD}):
        found = " and ".join(f'"{k}"' for k in sorted(kinds)) or "none"
        allowed = f'tanks of operation "{SHARED}", or of "{LOAD}" and of "{UNLOAD}"'
        reader.fault("tank", None, "", "needs places to load and to unload", found=found, allowed=allowed)
    return tuple(tanks)


def _cranes(reader: _Reader) -> tuple[Crane, ...]:
    reader.names("crane")
    rows = reader.rows("crane")
    if len(rows) > MOST_CRANES:
        reader.fault("crane", MOST_CRANES, "", "is one crane too many", allowed=f"up to {MOST_CRANES} on one track")
    if len(rows) > 1 and "separation" not in reader.settled["line"]:
        reader.fault("", None, "separation", "is missing: two cranes need one", allowed="a length, e.g. 2 m")
    cranes = []
    for i, row in enumerate(rows):
        low, high = (exact(row[key].nominal) if key in row else None for key in ("from", "to"))
        if low is not None and high is not None and low >= high:
            reader.fault("crane", i, "to", "does not lie beyond `from`", found=row["to"].text)
        cranes.append(Crane(row["name"], low, high))
    return tuple(cranes) or (Crane("crane"),)


def _products(reader: _Reader, tanks: Sequence[Tank]) -> tuple[Product, ...]:
    names = reader.names("product")
    rows = reader.rows("product") or [{"name": reader.settled["line"]["name"]}]
    operations = [t.operation for t in tanks if t.operation not in STATIONS]
    steps: dict[str, list[Step]] = {row["name"]: [] for row in rows}
    for i, row in enumerate(reader.rows("step")):
        step = _step(reader, i, row, operations)
        product = row.get("product", rows[0]["name"])
        if "product" not in row and len(rows) > 1:
            reader.fault("step", i, "product", "is missing: there are several", allowed=", ".join(names))
        elif ("product" not in row or reader.known("step", i, "product", product, list(steps), "product")) and step:
            steps[product].append(step)
    for i, row in enumerate(rows):
        if not steps[row["name"]] and not reader.messages:
            part, at = ("product", i) if reader.rows("product") else ("", None)
            reader.fault(part, at, "name" if part else "", "has no recipe", allowed="[[line.step]], one a step")
    return tuple(Product(r["name"], tuple(steps[r["name"]]), r.get("loads", 1), r.get("parts")) for r in rows)


def _step(reader: _Reader, i: int, row: Mapping[str, Any], operations: Sequence[str]) -> Step | None:
    good = reader.known("step", i, "operation", row["operation"], operations, "operation of a tank")
    try:
        low, high = window(row["time"])
    except QuantityError as error:
        reader.fault("step", i, "time", error.what, found=error.found, allowed=error.allowed, nearest=error.nearest)
        return None
    if low is None and high is None:
        reader.fault("step", i, "time", "is no window", found=row["time"], allowed=WINDOW)
        return None
    least = rounded_up(exact(low or 0.0), reader.step)
    most = None if high is None else floor(exact(high) / reader.step) * reader.step
    contact, ramp = reader.time(row, "contact"), reader.time(row, "ramp")
    if low is not None and low < 0:
        reader.fault("step", i, "time", "is below nought", found=row["time"])
    elif most is not None and most < least:
        what = f"holds no whole multiple of the time step of {float(reader.step):g} s"
        reader.fault("step", i, "time", what, found=row["time"])
    elif contact + ramp > least:
        what = f"contact and ramp, {float(contact + ramp):g} s, do not fit the shortest immersion"
        reader.fault("step", i, "ramp" if "ramp" in row else "contact", what, found=row["time"])
    elif good:
        current = exact(row["current"].nominal) if "current" in row else ZERO
        return Step(row["operation"], least, most, current, contact, ramp, row.get("entry") == "live")
    return None


def _air(reader: _Reader, tanks: Sequence[Tank]) -> tuple[AirLimit, ...]:
    operations = [t.operation for t in tanks if t.operation not in STATIONS]
    limits = []
    for i, row in enumerate(reader.rows("air_limit")):
        ends = [
            reader.known("air_limit", i, key, row[key], operations, "operation of a tank") for key in ("from", "to")
        ]
        if all(ends):
            most = floor(exact(row["time"].nominal) / reader.step) * reader.step
            limits.append(AirLimit(row["from"], row["to"], most))
    return tuple(limits)


def _buses(reader: _Reader, tanks: Sequence[Tank]) -> dict[str, Fraction]:
    names = reader.names("bus")
    for i, tank in enumerate(tanks):
        if tank.bus and not names:
            reader.fault("tank", i, "bus", "names a bus, and the sheet has none", allowed="[[line.bus]]")
        elif tank.bus:
            reader.known("tank", i, "bus", tank.bus, names, "bus")
    return {row["name"]: exact(row["current"].nominal) for row in reader.rows("bus")}


def _measured(reader: _Reader, names: Sequence[str]) -> dict[tuple[str, str], Measured]:
    found: dict[tuple[str, str], Measured] = {}
    for i, row in enumerate(reader.rows("measured")):
        ends = [reader.known("measured", i, key, row[key], names, "tank") for key in ("from", "to")]
        if not {"loaded", "empty"} & set(row):
            reader.fault("measured", i, "", "states no time", allowed="loaded, empty")
        if all(ends) and (row["from"], row["to"]) in found:
            reader.fault("measured", i, "to", "stands twice", found=f"{row['from']} to {row['to']}")
        times = (reader.time(row, key) if key in row else None for key in ("loaded", "empty"))
        found[row["from"], row["to"]] = Measured(*times)
    return found


# --- what only the whole line shows ---------------------------------------------------------------------------------


def _crossed(reader: _Reader, line: PlantLine) -> None:
    _measured_against_speed(reader, line)
    numbers: dict[str, list[int]] = {p.name: [] for p in line.products}
    for i, row in enumerate(reader.rows("step")):
        numbers[row.get("product", line.products[0].name)].append(i)
    for product in line.products:
        for fault in route_faults(line, product):
            rows = numbers[product.name]
            at = rows[min(fault.step, len(rows) - 1)]
            reader.fault(fault.part or "step", fault.index if fault.part else at, fault.key, fault.what,
                         found=fault.found, allowed=fault.allowed)  # fmt: skip


def _measured_against_speed(reader: _Reader, line: PlantLine) -> None:
    """Two cranes get out of each other's way at the stated speed; a watch that was faster contradicts it."""
    if len(line.cranes) < 2:
        return
    for i, row in enumerate(reader.rows("measured")):
        a, b = line.tank(row["from"]), line.tank(row["to"])
        least = line.travel(a.position - b.position)
        for key in ("loaded", "empty"):
            if key in row and reader.time(row, key) < least:
                what = "is shorter than the stated speed allows, which two cranes rely on"
                reader.fault("measured", i, key, what, found=row[key].text, allowed=f"at least {float(least):g} s")


class RouteFault:
    """One thing that keeps a recipe from being run, at a step counted from 0."""

    def __init__(
        self, step: int, key: str, what: str, found: str = "", allowed: str = "", part: str = "", index: int = 0
    ) -> None:
        self.step, self.key, self.what, self.found, self.allowed = step, key, what, found, allowed
        self.part, self.index = part, index


def route_faults(line: PlantLine, product: Product) -> list[RouteFault]:
    """What keeps a recipe from being run on this line, whatever the timetable: reach, time in air, current."""
    stops = [line.first(), *(s.operation for s in product.steps), line.last()]
    faults = []
    for i, (one, two) in enumerate(pairwise(stops)):
        if one == two:
            faults.append(RouteFault(i, "operation", "follows itself: make it one step", two))
        if line.stations(one) and line.stations(two) and not ways(line, one, two):
            what = f"no crane reaches both {one} and {two}"
            faults.append(RouteFault(i, "operation", what, f"{product.name}, step {i + 1}"))
    for i, step in enumerate(product.steps):
        limits = [line.buses[t.bus] for t in line.stations(step.operation) if t.bus]
        if limits and len(limits) == len(line.stations(step.operation)) and step.current > max(limits):
            most = f"at most {float(max(limits)):g} A"
            faults.append(RouteFault(i, "current", "is more than the bus gives", f"{float(step.current):g} A", most))
    if not faults and all(line.stations(stop) for stop in stops):
        for k, limit in enumerate(line.air):
            faults += _air_fault(line, stops, k, limit)
    return faults


def _air_fault(line: PlantLine, stops: Sequence[str], k: int, limit: AirLimit) -> list[RouteFault]:
    for first, last in air_spans(stops, limit):
        least = sum(
            (min(line.carry(a, b) for a, b in ways(line, one, two)) for one, two in pairwise(stops[first : last + 1])),
            ZERO,
        )
        if least > limit.most:
            what = f"cannot be kept: lift, drip, travel and lower take at least {float(least):g} s in air"
            return [RouteFault(first, "time", what, f"{float(limit.most):g} s", part="air_limit", index=k)]
    return []


def air_spans(stops: Sequence[str], limit: AirLimit) -> list[tuple[int, int]]:
    """First and last stop of every way that a limit on the time in air covers: each source, to the next target."""
    spans = []
    for i, stop in enumerate(stops):
        if stop == limit.source:
            after = [k for k in range(i + 1, len(stops)) if stops[k] == limit.target]
            if after and limit.source not in stops[i + 1 : after[0]]:
                spans.append((i, after[0]))
    return spans


def ways(line: PlantLine, one: str, two: str) -> list[tuple[Tank, Tank]]:
    """Pairs of tanks of two operations that one crane reaches both of."""
    cranes = range(len(line.cranes))
    return [
        (a, b)
        for a in line.stations(one)
        for b in line.stations(two)
        if any(line.reaches(c, a.position) and line.reaches(c, b.position) for c in cranes)
    ]
