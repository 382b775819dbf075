"""The pocket calculations of the trade, by kind. Modules are loaded when a kind is asked for."""

from __future__ import annotations

from importlib import import_module

from firstoff.errors import InputFault, Message, nearest
from firstoff.launch.calculations.base import Calculation

MODULES = (
    "damper", "motion", "ride", "conformity", "capability", "gauges", "sampling_plans", "surface", "tube", "joints",
    "durability", "impact", "impact_hit", "moulding", "production", "plating", "hull_panel", "rinse", "forming",
)  # fmt: skip


def kinds() -> list[Calculation]:
    """Every calculation, by module and then in the module's own order."""
    found: list[Calculation] = []
    for module in MODULES:
        found += import_module(f"firstoff.launch.calculations.{module}").CALCULATIONS
    return found


def find(kind: str) -> Calculation:
    """The calculation of that kind. Raises InputFault with the nearest one when there is none."""
    known = {c.kind: c for c in kinds()}
    if kind not in known:
        raise InputFault([Message("is no kind of calculation; see --list", key=kind, nearest=nearest(kind, known))])
    return known[kind]
