"""Every piston valve and every base valve that the parts of a bin make, and what each of them sets in the sheet."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product

import numpy as np
import numpy.typing as npt

from firstoff.chain.station import FloatArray
from firstoff.sheets.quantity import Quantity, parse
from firstoff.sheets.units import format_number, from_si
from firstoff.stations.damper.bin_parts import Bin, Part, Side, fits, whole_range
from firstoff.stations.damper.design import contradictions

IntArray = npt.NDArray[np.int64]
FIELDS = ("body", "bleed", "disc", "discs", "spring", "step", "other", "others")
BODY, BLEED, DISC, DISCS, SPRING, STEP, OTHER, OTHERS = range(8)
_NUMBER = re.compile(r"[+-]?\s*[0-9]+(?:[.,][0-9]+)?(?:[eE][+-]?[0-9]+)?")


@dataclass(frozen=True)
class ValveSet:
    """All valves of one side, a row each (n, 8): index of body, bleed disc, disc, how many, spring, preload step
    (shims, or crimp steps), disc of the check and how many of these."""

    side: Side
    bin: Bin
    rows: IntArray
    dropped: Mapping[str, int]  # why -> how many were left out

    def cost(self, each_new: float = 0.0) -> FloatArray:
        """Cost of the parts of each valve (n,), and so much for each part number that no model uses yet."""
        price = {kind: np.array([p.cost for p in parts]) for kind, parts in self.bin.parts.items()}
        new = {kind: np.array([each_new * (p.used_by == 0) for p in parts]) for kind, parts in self.bin.parts.items()}
        r, disc, kinds = self.rows, price["disc"], ((self.side.body, BODY), ("bleed_disc", BLEED), ("spring", SPRING))
        whole = sum((price[kind] + new[kind])[r[:, field]] for kind, field in kinds)
        whole += disc[r[:, DISC]] * r[:, DISCS] + disc[r[:, OTHER]] * r[:, OTHERS]
        whole += new["disc"][r[:, DISC]] + np.where(r[:, OTHER] == r[:, DISC], 0.0, new["disc"][r[:, OTHER]])
        return np.asarray(whole, dtype=np.float64)

    def short(self, quantity: int) -> npt.NDArray[np.bool_]:
        """Whether the stock is too small to build so many of each valve (n,)."""
        stock = {kind: np.array([p.stock for p in parts]) for kind, parts in self.bin.parts.items()}
        r, kinds = self.rows, ((self.side.body, BODY), ("bleed_disc", BLEED), ("spring", SPRING))
        missing = np.zeros(len(r), dtype=np.bool_)
        for kind, field in kinds:
            missing |= stock[kind][r[:, field]] < quantity
        both = r[:, OTHER] == r[:, DISC]
        for field, count in ((DISC, r[:, DISCS] + both * r[:, OTHERS]), (OTHER, r[:, OTHERS] + both * r[:, DISCS])):
            missing |= stock["disc"][r[:, field]] < quantity * count
        return missing

    def columns(self) -> dict[str, FloatArray]:
        """`station.parameter` -> nominals (n,), SI, of what the parts set; NaN where a body does not state it."""
        side, r, station = self.side, self.rows, self.side.station
        found = {f"{station}.{k}": self._take(side.body, BODY, k) for k in side.body_keys}
        main = f"{station}.{side.main}"
        for key, of in (("count", "notches"), ("width", "width"), ("depth", "thickness"), ("length", "length")):
            found[f"{main}_bleed_{key}"] = self._take("bleed_disc", BLEED, of)
        found[f"{main}_disc_thickness"] = self._take("disc", DISC, "thickness")
        found[f"{main}_disc_count"] = r[:, DISCS].astype(float)
        found[f"{station}.{side.check}_disc_thickness"] = self._take("disc", OTHER, "thickness")
        found[f"{station}.{side.check}_disc_count"] = r[:, OTHERS].astype(float)
        rate, free = self._take("spring", SPRING, "rate"), self._take("spring", SPRING, "free_length")
        found[f"{main}_relief_rate"] = rate
        if side.body == "piston":
            length = self._take("piston", BODY, "relief_length") - r[:, STEP] * self._take("piston", BODY, "shim")
            found[f"{main}_relief_preload"] = np.round(rate * (free - length), 2)  # as it is written in a sheet
        else:
            crimp = found[f"{station}.crimp_length"] + r[:, STEP] * self._take("base", BODY, "crimp_step")
            found[f"{station}.crimp_length"] = np.round(crimp, 7)
            found[f"{station}.relief_free_length"] = free
            found[f"{station}.relief_solid_length"] = self._take("spring", SPRING, "solid_length")
        return found

    def _take(self, kind: str, field: int, key: str) -> FloatArray:
        of_parts = np.array([p.nominal(key, np.nan) for p in self.bin.parts[kind]])
        return np.asarray(of_parts[self.rows[:, field]], dtype=np.float64)

    def parts_of(self, row: int) -> list[tuple[Part, int, str]]:
        """Part, pieces and place of everything in one valve."""
        r, side, parts = self.rows[row], self.side, self.bin.parts
        return [
            (parts[side.body][r[BODY]], 1, side.station.replace("_", " ")),
            (parts["bleed_disc"][r[BLEED]], 1, f"{side.main} bleed"),
            (parts["disc"][r[DISC]], int(r[DISCS]), f"{side.main} stack"),
            (parts["spring"][r[SPRING]], 1, f"{side.main} relief"),
            (parts["disc"][r[OTHER]], int(r[OTHERS]), f"{side.check} disc"),
        ]

    def set_up(self, row: int) -> str:
        """How the preload is set: `3 shims`, or the crimp."""
        r = self.rows[row]
        if self.side.body == "piston":
            return f"{r[STEP]} shim{'s' if r[STEP] != 1 else ''}"
        crimp = self.columns_of(row)[f"{self.side.station}.crimp_length"]
        return f"crimp {format_number(1e3 * crimp, 6)} mm"

    def row_of(self, nominal: Mapping[str, float]) -> int | None:
        """The first valve of these nominals, its preload within a thousandth; None when there is none."""
        same = np.ones(len(self.rows), dtype=np.bool_)
        for name, column in self.columns().items():
            near = 1e-3 if name.endswith("preload") else 1e-6
            silent = name.endswith("relief_solid_length") and nominal[name] == 0.0  # a sheet may leave it out
            if not silent:
                same &= ~np.isfinite(column) | (np.abs(column - nominal[name]) <= near * np.abs(nominal[name]))
        return int(np.argmax(same)) if same.any() else None

    def columns_of(self, row: int) -> dict[str, float]:
        """`columns` of one valve, without what is not stated."""
        one = ValveSet(self.side, self.bin, self.rows[row : row + 1], {})
        return {name: float(c[0]) for name, c in one.columns().items() if np.isfinite(c[0])}

    def stated(self, row: int) -> dict[str, tuple[Quantity, str]]:
        """`station.parameter` -> quantity as it would stand in the sheet, and the part and line it comes from."""
        r, side = self.rows[row], self.side
        body, bleed, disc, spring, other = (part for part, _, _ in self.parts_of(row))
        main, station = f"{side.station}.{side.main}", side.station
        where = [(f"{station}.{k}", body, k) for k in side.body_keys]
        for key, of in (("count", "notches"), ("width", "width"), ("depth", "thickness"), ("length", "length")):
            where.append((f"{main}_bleed_{key}", bleed, of))
        where += [(f"{main}_disc_thickness", disc, "thickness"),
                  (f"{station}.{side.check}_disc_thickness", other, "thickness"),
                  (f"{main}_relief_rate", spring, "rate")]  # fmt: skip
        if side.body == "base":
            where += [(f"{station}.relief_free_length", spring, "free_length"),
                      (f"{station}.relief_solid_length", spring, "solid_length")]  # fmt: skip
        found = {name: (p.values[k], f"{self.bin.file}:{p.lines.get(k, 0)}") for name, p, k in where if k in p.values}
        for name, part, count in ((f"{main}_disc", disc, r[DISCS]), (f"{station}.{side.check}_disc", other, r[OTHERS])):
            found[f"{name}_count"] = (parse(f"{count}", "1"), f"{self.bin.file}:{part.lines.get('thickness', 0)}")
        nominal = self.columns_of(row)
        if side.body == "piston":
            name, line = f"{main}_relief_preload", spring.lines.get("rate", 0)
            found[name] = (preload_quantity(body, spring, nominal[name]), f"{self.bin.file}:{line}")
        else:
            name = f"{station}.crimp_length"
            found[name] = (_moved(found[name][0], nominal[name], "mm"), found[name][1])
        return found


def preload_quantity(piston: Part, spring: Part, preload: float) -> Quantity:
    """Preload of a spring as installed, with the scatter that rate, free length and place give it, level by level.

    F = R (L0 - L), sd_F^2 = (L0 - L)^2 sd_R^2 + R^2 (sd_L0^2 + sd_L^2), independent, to first order. A tolerance
    without a level counts by four fifths of its variance as the lot's (assumed), as the stations take it for springs.
    Source: definition of a spring's rate; propagation of uncertainty (JCGM 100, 5.1.2).
    """
    rate = spring.nominal("rate")
    terms = ((spring.values["rate"], preload / rate), (spring.values["free_length"], rate),
             (piston.values["relief_length"], rate))  # fmt: skip
    variance = {"lot": 0.0, "part": 0.0}
    for quantity, slope in terms:
        if quantity.lot or quantity.part:
            shares = {level: spread.sd**2 if (spread := getattr(quantity, level)) else 0.0 for level in variance}
        else:
            total = quantity.total.sd**2 if quantity.total else 0.0
            shares = {"lot": 0.8 * total, "part": 0.2 * total}
        for level in variance:
            variance[level] += slope**2 * shares[level]
    text = f"{preload:.2f} N"
    text += "".join(f", {level} sd {v**0.5:.4g} N" for level, v in variance.items() if v > 0.0)
    return parse(text, "N")


def _moved(quantity: Quantity, nominal: float, unit: str) -> Quantity:
    """The quantity with another nominal, written alike."""
    text = _NUMBER.sub(format_number(from_si(nominal, quantity.unit), 7), quantity.text, count=1)
    return parse(text, unit)


def put_together(side: Side, parts: Bin, at: Mapping[str, float]) -> ValveSet:
    """Every valve of a side whose parts fit each other and whose drawing can be; `at`: the sheet's nominals."""
    blocks: list[IntArray] = []
    dropped: Counter[str] = Counter()
    for index, body in enumerate(parts.parts[side.body]):
        blocks.append(_of_body(side, parts, index, body, at, dropped))
    rows = np.concatenate(blocks) if blocks else np.empty((0, len(FIELDS)), dtype=np.int64)
    return _springs_in_range(ValveSet(side, parts, rows, dropped), at, dropped)


def _of_body(
    side: Side, parts: Bin, index: int, body: Part, at: Mapping[str, float], dropped: Counter[str]
) -> IntArray:
    """The valves on one body: all its parts that fit, in all numbers and steps."""
    post = body.nominal("post")

    def fitting(kind: str, prefix: str) -> list[int]:
        place = (body.nominal(f"{prefix}_disc_diameter"), post)
        return [i for i, p in enumerate(parts.parts[kind]) if fits(place, (p.nominal("diameter"), p.nominal("hole")))]

    springs = [
        i
        for i, p in enumerate(parts.parts["spring"])
        if fits((body.nominal("spring_diameter"),), (p.nominal("diameter"),))
    ]
    stacks, others = (
        range(low, high + 1)
        for low, high in (whole_range(body.values[f"{prefix}_discs"]) for prefix in (side.main, side.check))
    )
    steps = range(0)
    if side.body == "piston":
        low, high = whole_range(body.values["shims"])
        steps = range(low, high + 1)
    else:
        most = whole_range(body.values["crimp_steps"])[1]
        steps = range(-most, most + 1)
    triples = []
    each = len(stacks) * len(others) * len(springs) * len(steps)
    for triple in product(fitting("bleed_disc", side.main), fitting("disc", side.main), fitting("disc", side.check)):
        why = _refused(side, parts, (index, *triple), at)
        if why:
            dropped[why] += each
        else:
            triples.append(triple)
    grid = np.array(list(product(triples and range(len(triples)), stacks, springs, steps, others)), dtype=np.int64)
    if not grid.size:
        return np.empty((0, len(FIELDS)), dtype=np.int64)
    bleed, disc, other = np.array(triples, dtype=np.int64)[grid[:, 0]].T
    body_column = np.full(len(grid), index, dtype=np.int64)
    return np.stack([body_column, bleed, disc, grid[:, 1], grid[:, 2], grid[:, 3], other, grid[:, 4]], axis=1)


def _refused(side: Side, parts: Bin, chosen: tuple[int, int, int, int], at: Mapping[str, float]) -> str:
    """Why body, bleed disc, disc and check disc exclude each other, or nothing. Springs are looked at by themselves."""
    body, bleed, disc, other = chosen
    row = np.array([[body, bleed, disc, 1, 0, 0, other, 1]], dtype=np.int64)
    one = ValveSet(side, parts, row, {}).columns()
    nominal = {**at, **{name: float(c[0]) for name, c in one.items() if np.isfinite(c[0])}}
    springs = ("relief_free_length", "crimp_length", "relief_solid_length", "compression_relief_max_lift")
    known = {name: value for name, value in nominal.items() if not name.endswith(springs)}
    found = [c for c in contradictions(known, ()) if c.key.startswith(side.station)]
    return f"{found[0].key.split('.', 1)[1].replace('_', ' ')} {found[0].what.split(' of ')[0]}" if found else ""


def _springs_in_range(made: ValveSet, at: Mapping[str, float], dropped: Counter[str]) -> ValveSet:
    """The valves whose relief spring is neither loose nor crushed before its stop."""
    side, r = made.side, made.rows
    if not len(r):
        return made
    free, solid = (made._take("spring", SPRING, key) for key in ("free_length", "solid_length"))
    if side.body == "piston":
        length = made._take("piston", BODY, "relief_length") - r[:, STEP] * made._take("piston", BODY, "shim")
    else:
        length = made.columns()[f"{side.station}.crimp_length"]
    key = f"{side.main}_relief_max_lift"
    lift = made._take(side.body, BODY, key)
    lift = np.where(np.isfinite(lift), lift, at.get(f"{side.station}.{key}", 0.0))
    loose = length >= free - 1e-9
    crushed = ~loose & np.isfinite(solid) & (length < solid + lift - 1e-9)
    for what, out in (("relief spring is loose", loose), ("relief spring is crushed before its stop", crushed)):
        if out.any():
            dropped[what] += int(out.sum())
    return ValveSet(side, made.bin, r[~loose & ~crushed], dropped)
