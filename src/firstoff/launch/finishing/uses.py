"""What the plating line uses up for one bar: drag-out, metal, additives, charge, power, water, and their cost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from firstoff.errors import InputFault, Message, nearest
from firstoff.line.plant_line import Product
from firstoff.physics.plating import faraday, rinse
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.finish.supplies import Rinse, Supplies, Supply


@dataclass(frozen=True)
class BathUse:
    """One process tank, a bar. SI; costs in the plant's own money, None where no price or no number is stated."""

    operation: str
    drag_out: float  # m3 a bar
    charge: float  # C a bar; 0 without current
    dwell: float  # s
    thickness: float  # m, mean over both sides; 0 without metal
    deposit: float  # kg a bar
    lost: float
    dissolved: float  # anodes
    added: float  # by salts; negative: the bath grows richer
    additive: float  # m3 a bar
    energy: float  # J a bar, from the mains
    cost_metal: float
    cost_additive: float
    cost_power: float

    @property
    def cost(self) -> float:
        return self.cost_metal + self.cost_additive + self.cost_power


@dataclass(frozen=True)
class RinseUse:
    """Counterflow rinses after a tank, at the pace of the timetable."""

    after: str
    stages: int
    drag_out: float  # m3/s
    flow: float  # m3/s
    dilution: float
    textbook: float
    water: float  # m3 a bar
    cost: float


@dataclass(frozen=True)
class Uses:
    """All of it, a bar."""

    area: float  # m2 a bar, both sides
    baths: tuple[BathUse, ...]
    rinses: tuple[RinseUse, ...]
    currency: str
    unpriced: tuple[str, ...]  # what no price was stated for

    @property
    def energy(self) -> float:
        return sum(b.energy for b in self.baths)

    @property
    def waste_water(self) -> float:
        """m3 a bar: the rinses' overflow."""
        return sum(r.water for r in self.rinses)

    @property
    def cost(self) -> float:
        return sum(b.cost for b in self.baths) + sum(r.cost for r in self.rinses)


def bar_area(bumper: Bumper, thickness: float) -> float:
    """Both sides of a bar [m2], cut edges and holes taken off: developed sheet with its wrapped ends."""
    length = bumper.length + 2.0 * bumper.wrap_allowance(thickness)
    holes = sum(a.count * (0.25 * 3.141592653589793 * a.width**2 if a.round else a.width * a.height)
                for a in bumper.apertures)  # fmt: skip
    return 2.0 * (length * bumper.developed(thickness) - holes)


def uses(
    supplies: Supplies, product: Product, soaks: Mapping[int, Fraction], per_bar: float, area: float, file: str
) -> Uses:
    """What one bar uses up. soaks: dwell by step number [s]; per_bar: time of the line a bar [s]; area of a bar [m2].

    InputFault when a tank or rinse names nothing of the recipe.
    """
    operations = [s.operation for s in product.steps]
    names = [b.operation for b in supplies.baths]
    faults = [_unknown("supply.operation", n, operations, file) for n in names if n not in operations]
    faults += [_unknown("rinse.after", r.after, names, file) for r in supplies.rinses if r.after not in names]
    if faults:
        raise InputFault(faults)
    baths = tuple(_bath(supplies, b, product, soaks, area) for b in supplies.baths)
    drag = {b.operation: u.drag_out * (1.0 - b.returned) for b, u in zip(supplies.baths, baths, strict=True)}
    rinses = tuple(_rinse(supplies, r, drag[r.after] / per_bar, per_bar) for r in supplies.rinses)
    return Uses(area, baths, rinses, supplies.currency, tuple(_unpriced(supplies)))


def _bath(supplies: Supplies, bath: Supply, product: Product, soaks: Mapping[int, Fraction], area: float) -> BathUse:
    parts = product.parts or 1
    charge = work = dwell = 0.0
    for i, step in enumerate(product.steps):
        if step.operation == bath.operation:
            dwell += float(soaks[i])
            charge += float(step.charge(soaks[i])) / parts
    work = float(rinse.energy(charge, bath.voltage, 1.0, supplies.rectifier))
    metal, balance, thick = None, None, 0.0
    if bath.metal:
        metal = faraday.metals()[bath.metal]
        thick = charge * bath.efficiency * float(faraday.volume_per_charge(metal)) / area
        balance = rinse.metal_balance(thick, metal, bath.efficiency, bath.anode_efficiency, bath.drag_out, bath.content,
                                      bath.returned)  # fmt: skip
    deposit, lost, dissolved, _, added = (area * x for x in balance) if balance is not None else (0.0,) * 5
    bought = dissolved + max(added, 0.0)
    liquid = bath.additive * charge
    return BathUse(
        bath.operation, bath.drag_out * area, charge, dwell, thick, deposit, lost, dissolved, added, liquid, work,
        bought * bath.metal_price, liquid * bath.additive_price, work * supplies.power,
    )  # fmt: skip


def _rinse(supplies: Supplies, r: Rinse, drag_out: float, per_bar: float) -> RinseUse:
    flow = r.flow or rinse.flow_for(r.dilution, r.stages, drag_out)
    ratio = flow / drag_out if drag_out > 0.0 else float("inf")
    clean = ratio == float("inf")
    left = 0.0 if clean else float(rinse.counterflow(ratio, r.stages))
    handbook = 0.0 if clean or ratio == 0.0 else float(rinse.counterflow_textbook(ratio, r.stages))
    water = flow * per_bar
    return RinseUse(r.after, r.stages, drag_out, flow, left, handbook, water,
                    water * (supplies.water + supplies.waste_water))  # fmt: skip


def _unpriced(s: Supplies) -> list[str]:
    prices = {"power": s.power, "water": s.water, "waste water": s.waste_water}
    found = [name for name, price in prices.items() if not price]
    found += [f"metal of {b.operation}" for b in s.baths if b.metal and not b.metal_price]
    found += [f"additive of {b.operation}" for b in s.baths if b.additive and not b.additive_price]
    return found


def _unknown(key: str, found: str, known: list[str], file: str) -> Message:
    distinct = list(dict.fromkeys(known))
    what = "is no operation of the recipe" if key.startswith("supply") else "has no [[supply]] with its drag-out"
    return Message(what, file, key=key, found=found, allowed=", ".join(distinct), nearest=nearest(found, distinct))
