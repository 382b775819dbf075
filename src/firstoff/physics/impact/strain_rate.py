"""Yield strength of steel under fast loading."""

from __future__ import annotations

from firstoff.physics.ranges import FloatArray, Numbers, not_negative, positive


def cowper_symonds(strain_rate: Numbers, reference_rate: Numbers, exponent: Numbers) -> FloatArray:
    """Dynamic over static yield strength, 1 + (rate/D)^(1/q).

    strain_rate [1/s] >= 0; reference_rate D [1/s] > 0; exponent q > 0; any one shape. Mild steel: D = 40.4 1/s, q = 5,
    for initial yield; at several per cent of strain the effect is much smaller (D some hundreds or thousands 1/s).
    Source: Cowper and Symonds 1957; constants as quoted in Jones, Structural Impact (from memory). ValueError out of
    range.
    """
    rate = not_negative("strain rate", strain_rate) / positive("reference rate D", reference_rate)
    return 1.0 + rate ** (1.0 / positive("exponent q", exponent))
