"""Stations: what a family is made of, and what a sheet may state about it."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from firstoff.errors import InputFault, Message, nearest
from firstoff.families import NAMES, find


def stations(family: str) -> list[dict[str, Any]]:
    """The stations of a family in process order, then its check stations without an operation, as plain values."""
    if family not in NAMES:
        raise InputFault(
            [Message("is no family", key=family, allowed=", ".join(NAMES), nearest=nearest(family, NAMES))]
        )
    found = find(family)
    route = found.stations
    return [
        {
            "operation": found.operation(s.name) if s in route else None,
            "name": s.name,
            "title": s.title,
            "parameters": [asdict(p) for p in s.parameters],
            "needs": list(s.needs),
            "gives": list(s.gives),
        }
        for s in (*route, *found.checks)
    ]
