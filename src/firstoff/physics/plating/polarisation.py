"""How the potential at a cathode's surface rises with the current density."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from firstoff.physics.ranges import FloatArray, positive, within


class Polarisation(NamedTuple):
    """U(i) = b asinh(i/(2 i_0)) + r i [V]: Tafel at high current densities, linear at low ones, odd in i.

    tafel b [V] >= 0, exchange i_0 [A/m2] > 0, resistance r [ohm m2] >= 0. For the total current, hydrogen included.
    Source: Butler-Volmer with equal transfer coefficients, inverted (textbook). A constant in U moves the voltage only.
    """

    tafel: float = 0.0
    exchange: float = 1.0
    resistance: float = 0.0

    def checked(self) -> Polarisation:
        """Itself; ValueError out of range."""
        within("Tafel slope", self.tafel, least=0.0)
        positive("exchange current density", self.exchange)
        within("polarisation resistance", self.resistance, least=0.0)
        return self

    def potential(self, i: FloatArray) -> FloatArray:
        """U(i) [V]; i [A/m2], any shape."""
        found: FloatArray = self.tafel * np.arcsinh(i / (2.0 * self.exchange)) + self.resistance * i
        return found

    def slope(self, i: FloatArray) -> FloatArray:
        """dU/di [ohm m2]."""
        found: FloatArray = self.tafel / np.sqrt(i * i + 4.0 * self.exchange**2) + self.resistance
        return found
