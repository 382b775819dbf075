"""Calculations of plain formulas: inputs read as numbers or lists in the shop's units, handed on in SI."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from firstoff.launch.calculations.base import Calculation
from firstoff.launch.calculations.damper_inputs import FloatArray, choice, number, numbers, plain, same_length

MM, MPA, N_PER_MM = 1e-3, 1e6, 1e3
MM2, MM3, MM4, UM, DEG = 1e-6, 1e-9, 1e-12, 1e-6, math.pi / 180.0
A_PER_DM2, G_PER_CM3, AH, MINUTE = 100.0, 1e3, 3600.0, 60.0


@dataclass(frozen=True)
class Number:
    """One input: what it is, its unit in SI, the range it is taken from (in the input's own unit)."""

    what: str
    si: float = 1.0
    above: float = -math.inf
    least: float = -math.inf
    most: float = math.inf
    lists: bool | None = None  # True: a list belongs to one calculation; False: a list is one calculation an item
    optional: bool = False

    def read(self, given: Mapping[str, Any], key: str) -> FloatArray:
        values = numbers(given, key, above=self.above, least=self.least, most=self.most)
        if self.lists is True and not values.ndim:
            raise ValueError(f"{key} must be a list of numbers")
        return values * self.si


def above_zero(what: str, si: float = 1.0, most: float = math.inf, **more: Any) -> Number:
    return Number(what, si, above=0.0, most=most, **more)


def from_zero(what: str, si: float = 1.0, most: float = math.inf, **more: Any) -> Number:
    return Number(what, si, least=0.0, most=most, **more)


Read = Mapping[str, FloatArray]  # inputs that were given, SI
Given = Mapping[str, Any]


def results(gives: Mapping[str, tuple[str, float]], found: Mapping[str, Any]) -> dict[str, Any]:
    """SI results as plain numbers in the units of `gives`; texts, whole numbers and truth values as they are."""
    told: dict[str, Any] = {}
    for name, value in found.items():
        if value is None:
            continue
        if isinstance(value, bool | int | str) or (isinstance(value, list) and not isinstance(value[0], float)):
            told[name] = value
        else:
            told[name] = plain(name, np.asarray(value, dtype=np.float64) / gives[name][1])
    return told


def formula(
    kind: str,
    title: str,
    source: str,
    inputs: Mapping[str, Number],
    gives: Mapping[str, str | tuple[str, float]],
    run: Callable[[Read, Given], Mapping[str, Any]],
    *,
    texts: Mapping[str, str | tuple[str, tuple[str, ...]]] | None = None,
    needed_texts: tuple[str, ...] = (),
) -> Calculation:
    """A calculation whose numbers are read, checked and turned to SI before `run`, and its results turned back.

    gives: name -> unit, or (unit, its size in SI). texts: name -> what it is, or (what, allowed words); they may be
    left out unless named in `needed_texts`, and reach `run` in its second argument.
    """
    units = {name: unit if isinstance(unit, tuple) else (unit, 1.0) for name, unit in gives.items()}
    words = dict(texts or {})

    def said(name: str) -> str:
        told = words[name]
        return told if isinstance(told, str) else f"{told[0]}: {' or '.join(map(repr, told[1]))}"

    def calculate(given: Given) -> dict[str, Any]:
        for name, told in words.items():
            if name not in given:
                continue
            if isinstance(told, tuple):
                choice(given, name, told[1])
            elif not isinstance(given[name], str) and not _texts(given[name]):
                raise ValueError(f"{name} must be a text, not {given[name]!r}")
        read = {key: spec.read(given, key) for key, spec in inputs.items() if key in given}
        same_length({key: array for key, array in read.items() if inputs[key].lists is None})
        if many := {key: array.size for key, array in read.items() if inputs[key].lists is False and array.ndim}:
            loose = {key: array for key, array in read.items() if inputs[key].lists is not True}
            same_length(loose)
            return _one_by_one([_item(read, loose, n) for n in range(max(many.values()))], given, units, run)
        return results(units, run(read, given))

    return Calculation(
        kind,
        title,
        source,
        {key: spec.what for key, spec in inputs.items() if not spec.optional} | {n: said(n) for n in needed_texts},
        {name: unit for name, (unit, _) in units.items()},
        calculate,
        {key: spec.what for key, spec in inputs.items() if spec.optional}
        | {name: said(name) for name in words if name not in needed_texts},
    )


def _item(read: Read, loose: Read, n: int) -> dict[str, FloatArray]:
    """The inputs of the n-th of several calculations: of lists that are not one calculation's own, the n-th item."""
    return {key: array[n] if key in loose and array.ndim else array for key, array in read.items()}


def _one_by_one(
    items: list[dict[str, FloatArray]],
    given: Given,
    gives: Mapping[str, tuple[str, float]],
    run: Callable[[Read, Given], Mapping[str, Any]],
) -> dict[str, Any]:
    """A list of results under each name that every calculation gave."""
    found = [results(gives, run({key: np.asarray(value) for key, value in item.items()}, given)) for item in items]
    return {name: [told[name] for told in found] for name in found[0] if all(name in told for told in found)}


def _texts(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(item, str) for item in value)


def together(given: Mapping[str, Any], *names: str) -> bool:
    """Whether all of these inputs are there; ValueError when only some of them are."""
    there = [name for name in names if name in given]
    if there and len(there) < len(names):
        raise ValueError(f"{', '.join(names)} must be given together")
    return bool(there)


def whole_number(key: str, value: FloatArray | float) -> int:
    """One whole number from an input read as a number."""
    found = number(key, float(value))
    if found != int(found):
        raise ValueError(f"{key} must be a whole number, not {found:g}")
    return int(found)


def thread_of(given: Mapping[str, Any]) -> tuple[float, float | None] | None:
    """Diameter and pitch [mm] of a thread written as on a drawing, `M10x1.25`; None when no thread is named."""
    if "thread" not in given:
        return None
    match = re.match(r"^M(\d+(?:[.,]\d+)?)(?:\s*[x×]\s*(\d+(?:[.,]\d+)?))?(?=\s|-|$)", str(given["thread"]).strip())
    if match is None:
        raise ValueError(f"thread must be written like M10 or M10x1.25, not {given['thread']!r}")
    size, pitch = (float(text.replace(",", ".")) if text else None for text in match.groups())
    assert size is not None
    return size, pitch
