"""A cause that the engineer names, and its size as a quantity."""

from __future__ import annotations

from firstoff.chain.fault import Fault
from firstoff.errors import InputFault, Message, nearest
from firstoff.launch.correcting.changes import difference
from firstoff.launch.explaining.explain import LaunchExplanation
from firstoff.sheets.quantity import QuantityError, parse
from firstoff.sheets.units import format_value
from firstoff.trials.explain import Cause
from firstoff.trials.explain import explain as compare

SLACK = 0.5  # of a bound: a size that was measured may lie a little outside what is declared


def named_cause(explanation: LaunchExplanation, name: str, size: str) -> tuple[Fault, Cause, float | None]:
    """The fault, which parts it most likely affects, and its size as it declares it. Raises InputFault."""
    fault = explanation.faults.get(name)
    if fault is None:
        known = list(explanation.faults)
        raise InputFault([Message("is no declared fault", key="cause", found=name, allowed=", ".join(known),
                                  nearest=nearest(name, known))])  # fmt: skip
    suspects = [s for s in explanation.prepared.suspects if s.name == name]
    if not suspects:
        what = "is known from the readings or has no value in this chain, so it is no suspect"
        raise InputFault([Message(what, key="cause", found=name)])
    alone = compare(explanation.scene, suspects).causes
    plain = Cause(name, fault.title, (fault.station,), "all parts", 1.0, 0.0)
    chosen = next((c for c in alone if c.name == name), plain)
    if chosen is plain and "all" not in fault.who:
        what = "affects one part or one group of parts, and the readings show none of them"
        raise InputFault([Message(what, key="cause", found=name)])
    return fault, chosen, _size(explanation, fault, size) if size else None


def _size(explanation: LaunchExplanation, fault: Fault, text: str) -> float:
    """A change of what the fault moves first, or a factor."""
    move = fault.moves[0]
    low, high = sorted((fault.sizes.low, fault.sizes.high))
    if fault.acts != "parameters":
        unit, nominal = ("N" if move.how == "add" else "1"), 1.0
    else:
        value = explanation.prepared.values[move.name]
        unit, nominal = difference(value.unit), value.nominal
    number = _parsed(text, unit, factor=move.how == "scale", nominal=nominal)
    bounds = (-high if fault.sizes.both_signs else low, high)
    slack = SLACK * max(abs(low), abs(high)) if move.how == "add" else SLACK * (high - low)
    if not bounds[0] - slack <= number <= bounds[1] + slack or number == 0.0:
        raise InputFault([Message(f"is no size of {fault.name}", key="size", found=text,
                                  allowed=_allowed(fault, unit, nominal, bounds))])  # fmt: skip
    return number


def _parsed(text: str, unit: str, factor: bool, nominal: float) -> float:
    try:
        if factor:
            try:
                return parse(text, "1").nominal
            except QuantityError:
                return 1.0 + parse(text, unit).nominal / nominal
        return parse(text, unit).nominal
    except QuantityError as fault:
        raise InputFault([Message(fault.what, key="size", found=fault.found, allowed=fault.allowed,
                                  nearest=fault.nearest)]) from None  # fmt: skip


def _allowed(fault: Fault, unit: str, nominal: float, bounds: tuple[float, float]) -> str:
    if fault.moves[0].how != "scale":
        return f"{format_value(bounds[0], unit)} to {format_value(bounds[1], unit)}"
    text = f"a factor, {bounds[0]:g} to {bounds[1]:g}"
    if unit == "1":
        return text
    changes = [format_value((b - 1.0) * nominal, unit, 3) for b in bounds]
    return f"{text}, or a change, {changes[0]} to {changes[1]}"
