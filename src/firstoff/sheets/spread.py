"""How a value scatters about its nominal, and who says so."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Shape = Literal["normal", "uniform"]


@dataclass(frozen=True)
class Spread:
    """Scatter of one level (lot or part) about the nominal, in SI units.

    `offset` is the mean minus the nominal: 2.0 +0.05/-0.08 mm has its mean 0.015 mm under the nominal. A uniform
    spread covers mean ± sqrt(3) sd. `source` says where the size comes from: the sheet, a standard, or `assumed: ...`.
    """

    sd: float
    source: str
    shape: Shape = "normal"
    offset: float = 0.0
