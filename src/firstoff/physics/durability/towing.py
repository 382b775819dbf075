"""Loads of a hitch by its rating class, and what they wear."""

from __future__ import annotations

from typing import Final

from firstoff.physics.ranges import FloatArray, Numbers, positive, within

GRAVITY: Final = 9.80665  # m/s2, standard
# gross mass of the trailer [kg]: 2000, 3500, 5000 and 10 000 lb; classes 1 to 4 of SAE J684 (from memory)
CLASSES: Final = {"1": 907.2, "2": 1587.6, "3": 2268.0, "4": 4535.9}
NOSE: Final = 0.10  # weight on the hitch over that of the trailer: common practice
DYNAMIC: Final = 0.6  # of the D-value, either way, for 2 million cycles: UN R55 (from memory)
CYCLES: Final = 2e6


def d_value(towing: Numbers, trailer: Numbers) -> FloatArray:
    """Reference force between car and trailer, D = g T R/(T + R) [N].

    towing T and trailer R [kg] > 0: gross masses; any one shape. Source: UN R55 (from memory). ValueError out of range.
    """
    t, r = positive("mass of the towing car", towing), positive("mass of the trailer", trailer)
    found: FloatArray = GRAVITY * t * r / (t + r)
    return found


def life_used(amplitude: Numbers, strength: Numbers, exponent: Numbers, cycles: Numbers = CYCLES) -> FloatArray:
    """Miner's sum of one load level, D = n/N, N = 2e6 (S/S_a)^k.

    amplitude S_a >= 0 and strength S at 2e6 cycles [Pa] > 0; exponent k 1 to 20; cycles n > 0; any one shape. No
    endurance limit, no mean stress. Source: Basquin, Miner (textbook). ValueError out of range.
    """
    k = within("exponent", exponent, least=1.0, most=20.0)
    share = within("amplitude", amplitude, least=0.0) / positive("strength", strength)
    found: FloatArray = positive("cycles", cycles) / CYCLES * share**k
    return found
