"""Reading of a powder-metal grade code."""

from __future__ import annotations

import json
import re
from functools import cache
from importlib.resources import files
from typing import Any, Final, NamedTuple

KSI: Final = 6.894757e6  # Pa

_CODE = re.compile(r"^([A-Z]+)-(\d{2})(\d{2})(?:-(\d{1,3})(HT)?)?$")


class Grade(NamedTuple):
    """What a code says: family, nominal alloy and carbon [%], ranges where known [%], minimum strength [Pa]."""

    family: str
    alloy: str | None  # copper or nickel
    alloy_nominal: int
    carbon_nominal: float
    alloy_range: tuple[float, float] | None
    carbon_range: tuple[float, float] | None
    min_strength: float | None
    heat_treated: bool  # then the strength is the ultimate, else the yield


@cache
def _table() -> dict[str, Any]:
    text = files("firstoff.physics.moulding").joinpath("data/grades.json").read_text("utf-8")
    table: dict[str, Any] = json.loads(text)
    return table


def read_code(code: str) -> Grade:
    """A grade code of iron-based structural parts, `FC-0208-50`.

    Letters: family; two digits: nominal per cent of the main alloy; two digits: carbon in tenths of a per cent; suffix:
    minimum yield strength in ksi as sintered, ultimate strength with HT. The alloy of FD (diffusion-alloyed) beside
    nickel is not in the code. Source: MPIF 35, see data/grades.json. ValueError for a code that is not of this form or
    family (prealloyed FL grades carry the alloy's number instead of per cent).
    """
    match = _CODE.match(code.strip().upper())
    if match is None:
        raise ValueError(f"code {code!r} is not of the form FC-0208-50")
    letters, alloy, carbon, strength, treated = match.groups()
    families = _table()["families"]
    if letters not in families:
        raise ValueError(f"family {letters!r} is not known; known: {', '.join(families)}")
    metal = families[letters]["alloy"]
    if metal is None and int(alloy):
        raise ValueError(f"a plain iron grade has no alloy: {code!r}")
    copper = _table()["copper_range_pct"].get(f"{letters}-{alloy}")
    carbons = _table()["carbon_range_pct"].get(carbon)
    return Grade(
        families[letters]["what"],
        metal,
        int(alloy),
        int(carbon) / 10.0,
        tuple(copper) if copper else None,
        tuple(carbons) if carbons else None,
        int(strength) * KSI if strength else None,
        treated is not None,
    )
