"""The product's windows put to the crane's recipe: every step narrowed to what both allow."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil, floor

from firstoff.errors import InputFault, Message, nearest
from firstoff.line.plant_line import AirLimit, PlantLine, Product, Step
from firstoff.stations.bumper.finish.windows import AirWindow, Window, Windows

Span = tuple[Fraction | None, Fraction | None]


@dataclass(frozen=True)
class Held:
    """One window as the plant states it, as the product needs it, and as both allow. Seconds."""

    operation: str  # or `nickel to chrome, in air`
    plant: Span
    product: Span
    both: Span
    why: str
    origin: str
    window: Window | None = None  # None: time in air
    step: Step | None = None

    @property
    def narrower(self) -> bool:
        """Whether the timetable had to be narrowed."""
        return self.both != self.plant


def product_of(line: PlantLine, windows: Windows, name: str, file: str) -> Product:
    """The line's product that is this bar. InputFault when that is not told."""
    known = [p.name for p in line.products]
    wanted = windows.product or (known[0] if len(known) == 1 else name)
    if wanted in known:
        return line.product(wanted)
    what = "names no product of the line" if windows.product else "must say which product of the line this bar is"
    raise InputFault([Message(what, file, key="on_line.product", found=windows.product, allowed=", ".join(known),
                              nearest=nearest(wanted, known))])  # fmt: skip


def narrowed(line: PlantLine, product: Product, windows: Windows, file: str) -> tuple[PlantLine, list[Held]]:
    """The line with this product's steps and times in air narrowed to its windows, and each window's account.

    InputFault with every window that names nothing of the recipe, or that no dwell serves together with the plant's.
    """
    faults: list[Message] = []
    held: list[Held] = []
    steps = list(product.steps)
    operations = [s.operation for s in steps]
    for window in windows.dwells:
        at = [i for i, name in enumerate(operations) if name == window.operation]
        if not at:
            faults.append(_unknown(window.operation, window.origin, operations, "window.operation", file))
        for i in at:
            steps[i], account = _step(line, steps[i], window)
            held.append(account)
            faults += [_empty(account, file)] if _is_empty(account.both) else []
    air = list(line.air)
    for limit in windows.airs:
        ends = (("from", limit.source), ("to", limit.target))
        missing = [(key, name) for key, name in ends if name not in operations]
        faults += [_unknown(name, limit.origin, operations, f"air_window.{key}", file) for key, name in missing]
        if not missing:
            held.append(_air(line, air, limit))
    if faults:
        raise InputFault(faults)
    products = tuple(replace(p, steps=tuple(steps)) if p.name == product.name else p for p in line.products)
    return replace(line, products=products, air=tuple(air)), held


def _step(line: PlantLine, step: Step, window: Window) -> tuple[Step, Held]:
    dead = step.contact + step.ramp / 2 if window.full_current else Fraction(0)  # nothing grows; ramp counts half
    grid = line.time_step
    least = None if window.least is None else ceil((_exact(window.least) + dead) / grid) * grid
    most = None if window.most is None else floor((_exact(window.most) + dead) / grid) * grid
    low = step.least if least is None else max(step.least, least)
    high = step.most if most is None else most if step.most is None else min(step.most, most)
    account = Held(window.operation, (step.least, step.most), (least, most), (low, high), window.why, window.origin,
                   window, step)  # fmt: skip
    return replace(step, least=low, most=high), account


def _exact(seconds: float) -> Fraction:
    """To a microsecond, so that rounding in the last digit costs no whole time step."""
    return Fraction(round(seconds * 10**6), 10**6)


def _air(line: PlantLine, air: list[AirLimit], limit: AirWindow) -> Held:
    most = floor(_exact(limit.most) / line.time_step) * line.time_step
    there = next((i for i, a in enumerate(air) if (a.source, a.target) == (limit.source, limit.target)), None)
    before = air[there].most if there is not None else None
    both = most if before is None else min(before, most)
    if there is None:
        air.append(AirLimit(limit.source, limit.target, both))
    else:
        air[there] = replace(air[there], most=both)
    return Held(f"{limit.source} to {limit.target}, in air", (None, before), (None, most), (None, both), limit.why,
                limit.origin)  # fmt: skip


def _is_empty(span: Span) -> bool:
    return span[0] is not None and span[1] is not None and span[0] > span[1]


def _empty(held: Held, file: str) -> Message:
    name, _, number = held.origin.rpartition(":")
    what = f"and the plant's recipe leave no time in {held.operation} that serves both"
    return Message(what, file if number.isdigit() else "", int(number) if number.isdigit() else 0, "window",
                   span_text(held.product), f"the plant's {span_text(held.plant)}")  # fmt: skip


def _unknown(found: str, origin: str, operations: list[str], key: str, file: str) -> Message:
    number = origin.rpartition(":")[2]
    distinct = list(dict.fromkeys(operations))
    return Message("is no operation of this product's recipe", file, int(number) if number.isdigit() else 0, key, found,
                   ", ".join(distinct), nearest(found, distinct))  # fmt: skip


def span_text(span: Span) -> str:
    """`600 to 720 s`, `at least 600 s`, `at most 75 s`."""
    low, high = (None if x is None else f"{float(x):g}" for x in span)
    if low is not None and high is not None:
        return f"{low} to {high} s"
    if low is not None:
        return f"at least {low} s"
    return "no limit" if high is None else f"at most {high} s"
