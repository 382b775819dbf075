"""The plant's bin of valve parts: which kinds there are, what each kind states, and which parameters it sets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from firstoff.chain.station import Parameter
from firstoff.sheets.quantity import Quantity
from firstoff.sheets.schema import Key, Section
from firstoff.stations.damper.base_valve import BaseValve
from firstoff.stations.damper.piston_valve import PistonValve

FIT = 0.1e-3  # m, by which diameter and hole of a part may differ from its place: assumed, common practice, no source
UNSTATED = "assumed: nobody says where its dimensions and their scatter come from"


@dataclass(frozen=True)
class Part:
    """One part number of the bin."""

    kind: str
    number: str
    stock: int
    cost: float  # of one piece, in the plant's own money
    used_by: int  # models that already use it; 0: a new part number
    values: Mapping[str, Quantity]
    lines: Mapping[str, int] = field(default_factory=dict)  # key -> line in the bin's file
    source: str = UNSTATED

    def nominal(self, key: str, default: float = 0.0) -> float:
        """Nominal of a key, SI; the default where the part does not state it."""
        return self.values[key].nominal if key in self.values else default


@dataclass(frozen=True)
class Bin:
    """All parts there are to choose from, by kind, in the order of the file."""

    name: str
    file: str
    parts: Mapping[str, tuple[Part, ...]]
    new_part_cost: float = 0.0  # of bringing one new part number in, in the plant's own money


@dataclass(frozen=True)
class Side:
    """How one of the two valves is put together: a body, and what goes on it."""

    station: str
    body: str  # kind of its body
    main: str  # prefix of the path that makes the force
    check: str  # prefix of the path that only lets oil back
    body_keys: tuple[str, ...]  # parameters that the body states


SIDES = (
    Side("piston_valve", "piston", "rebound", "check", (
        "rebound_seat_diameter", "rebound_clamp_diameter", "rebound_pressure_diameter", "rebound_land_height",
        "rebound_port_count", "rebound_port_diameter", "rebound_relief_seat_diameter", "rebound_relief_max_lift",
        "check_seat_diameter", "check_clamp_diameter", "check_pressure_diameter", "check_land_height",
        "check_port_count", "check_port_diameter", "rebound_lift_stop", "check_lift_stop", "port_length",
    )),
    Side("base_valve", "base", "compression", "intake", (
        "compression_seat_diameter", "compression_clamp_diameter", "compression_pressure_diameter",
        "compression_land_height", "compression_port_count", "compression_port_diameter",
        "compression_relief_seat_diameter", "compression_relief_max_lift", "intake_seat_diameter",
        "intake_clamp_diameter", "intake_pressure_diameter", "intake_land_height", "intake_port_count",
        "intake_port_diameter", "compression_lift_stop", "intake_lift_stop", "port_length", "crimp_length",
    )),
)  # fmt: skip
PREFIXES = tuple(prefix for side in SIDES for prefix in (side.main, side.check))
MAY_BE_LEFT_OUT = ("rebound_relief_max_lift", "compression_relief_max_lift", "port_length", *(
    f"{prefix}_lift_stop" for prefix in PREFIXES))  # fmt: skip
KINDS = ("piston", "bleed_disc", "disc", "spring", "base")
TITLES = {"piston": "piston", "bleed_disc": "bleed disc", "disc": "disc", "spring": "relief spring",
          "base": "base valve"}  # fmt: skip


def _quantity(
    name: str, unit: str, what: str, low: str | None = None, high: str | None = None, required: bool = True
) -> Key:
    return Key(name, unit, what, required=required, low=low, high=high)


_COMMON = (
    Key("part", None, "part number", required=True, type="text"),
    Key("stock", None, "pieces at hand", required=True, type="integer", low="0"),
    Key("cost", None, "cost of one piece, in the plant's own money", required=True, type="number", low="0"),
    Key("used_by", None, "models that use it already; 0: a new part number", required=True, type="integer", low="0"),
    Key("source", None, "where its dimensions and their scatter come from", type="text"),
)
_ROUND = (
    _quantity("diameter", "mm", "outer diameter, as its place names it", "2 mm", "80 mm"),
    _quantity("hole", "mm", "diameter of the hole", "1 mm", "40 mm"),
)


def _places(side: Side) -> tuple[Key, ...]:
    """What a body says about the parts that fit on it."""
    discs = tuple(
        key
        for prefix in (side.main, side.check)
        for key in (
            _quantity(f"{prefix}_disc_diameter", "mm", f"outer diameter of its {prefix} discs", "2 mm", "80 mm"),
            _quantity(f"{prefix}_discs", "1", f'discs in the {prefix} stack: "2 to 5", or one number', "1", "20"),
        )
    )
    return (
        *discs,
        _quantity("post", "mm", "diameter of the post that carries the discs", "1 mm", "40 mm"),
        _quantity("spring_diameter", "mm", "outer diameter of its relief spring", "1 mm", "60 mm"),
    )


def _set_up(side: Side) -> tuple[Key, ...]:
    """How the preload of the relief is set."""
    if side.body == "piston":
        return (
            _quantity("relief_length", "mm", "length of the relief spring without a shim", "1 mm", "100 mm"),
            _quantity("shim", "mm", "thickness of one shim under the spring", "0.001 mm", "2 mm"),
            _quantity("shims", "1", 'shims under the spring: "0 to 6", or one number', "0", "40"),
        )
    return (
        _quantity("crimp_step", "mm", "least step of the crimping press", "0.001 mm", "1 mm"),
        _quantity("crimp_steps", "1", "steps away from crimp_length, each way", "0", "40"),
    )


def _parameters(side: Side) -> dict[str, Parameter]:
    station = PistonValve() if side.body == "piston" else BaseValve()
    return {p.name: p for p in station.parameters}


def _body(side: Side) -> Section:
    of = _parameters(side)
    keys = [
        Key(of[k].name, of[k].unit, of[k].what, required=k not in MAY_BE_LEFT_OUT, low=of[k].low, high=of[k].high)
        for k in side.body_keys
    ]
    what = f"A {TITLES[side.body]}: what it carries, and how"
    return Section(side.body, (*_COMMON, *_places(side), *_set_up(side), *keys), what, required=True, repeated=True)


SECTIONS = (
    Section(
        "bin",
        (
            Key("name", None, "name of the bin", required=True, type="text"),
            Key("new_part_cost", None, "cost of bringing one new part number in", type="number", low="0"),
        ),
        "The plant's bin of valve parts",
        required=True,
    ),
    *(_body(side) for side in SIDES),
    Section(
        "bleed_disc",
        (
            *_COMMON,
            *_ROUND,
            _quantity("notches", "1", "number of notches", "0", "40"),
            _quantity("width", "mm", "width of one notch", "0.1 mm", "10 mm"),
            _quantity("thickness", "mm", "thickness: depth of a notch", "0.02 mm", "1 mm"),
            _quantity("length", "mm", "length of one notch along the flow", "0.01 mm", "10 mm"),
        ),
        "A disc with bleed notches, of either valve",
        required=True,
        repeated=True,
    ),
    Section(
        "disc",
        (*_COMMON, *_ROUND, _quantity("thickness", "mm", "thickness of one disc", "0.05 mm", "1 mm")),
        "A plain valve disc; where it fits follows from diameter and hole",
        required=True,
        repeated=True,
    ),
    Section(
        "spring",
        (
            *_COMMON,
            _quantity("diameter", "mm", "outer diameter", "1 mm", "60 mm"),
            _quantity("rate", "N/mm", "rate", "1 N/mm", "2000 N/mm"),
            _quantity("free_length", "mm", "free length", "1 mm", "100 mm"),
            _quantity("solid_length", "mm", "length with the coils touching", "0.1 mm", "100 mm", required=False),
        ),
        "A relief spring, of either valve",
        required=True,
        repeated=True,
    ),
)


def whole_range(quantity: Quantity) -> tuple[int, int]:
    """First and last whole number that a count or a range of counts stands for; the last below the first: none."""
    low = quantity.nominal if quantity.low is None else quantity.low
    high = quantity.nominal if quantity.high is None else quantity.high
    whole = abs(low - round(low)) < 1e-9 and abs(high - round(high)) < 1e-9
    return (round(low), round(high)) if whole else (1, 0)


def fits(places: Sequence[float], sizes: Sequence[float]) -> bool:
    """Whether every size is that of its place, within FIT."""
    return all(abs(a - b) <= FIT for a, b in zip(places, sizes, strict=True))
