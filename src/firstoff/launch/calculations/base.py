"""The shape of one pocket calculation: named inputs with units, named results with units, a source."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from firstoff.errors import InputFault, Message, nearest


@dataclass(frozen=True)
class Calculation:
    """One kind of `firstoff calc`. `run` gets inputs whose names were checked; it may return fewer results than
    `gives` when optional inputs are missing."""

    kind: str
    title: str
    source: str
    inputs: Mapping[str, str]  # needed: name -> what it is; the name ends in its unit
    gives: Mapping[str, str]  # name -> unit
    run: Callable[[Mapping[str, Any]], dict[str, Any]]
    optional: Mapping[str, str] = field(default_factory=dict)
    draw: Callable[[Mapping[str, Any], Path], Path] | None = None  # of kinds that have a figure: inputs, file to write

    def check(self, given: Mapping[str, Any]) -> list[Message]:
        """Every missing and every unknown input, by name."""
        known = {**self.inputs, **self.optional}
        missing = [
            Message("is missing", key=name, allowed=self.inputs[name]) for name in self.inputs if name not in given
        ]
        unknown = [
            Message("is not an input of " + self.kind, key=name, allowed=", ".join(known), nearest=nearest(name, known))
            for name in given
            if name not in known
        ]
        return missing + unknown

    def __call__(self, given: Mapping[str, Any]) -> dict[str, Any]:
        """Check the names, then calculate. ValueError of the physics becomes a message."""
        faults = self.check(given)
        if faults:
            raise InputFault(faults)
        try:
            with warnings.catch_warnings():
                # an overflow ends as a result that is no number, and that is refused by name
                warnings.simplefilter("ignore", RuntimeWarning)
                return self.run(given)
        except (ValueError, TypeError, ZeroDivisionError, OverflowError, KeyError) as error:
            raise InputFault([Message(f"{self.kind} cannot be calculated: {error}")]) from error
