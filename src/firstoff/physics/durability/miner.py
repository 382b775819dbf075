"""Damage summed by the linear rule."""

from __future__ import annotations

import numpy as np

from firstoff.physics.ranges import Numbers, not_negative, positive, within


def block_damage(cycles: Numbers, life: Numbers) -> float:
    """Damage of load blocks, D = sum n_i/N_i.

    cycles n_i >= 0 and life N_i > 0 [cycles], (n_blocks,). Failure is expected near D = 1; tests scatter from about 0.3
    to 3 (common practice). Source: Palmgren and Miner. ValueError out of range or for unequal lengths.
    """
    n, life_ = np.atleast_1d(not_negative("cycles", cycles)), np.atleast_1d(positive("life", life))
    if n.shape != life_.shape:
        raise ValueError("every block needs its cycles and its life")
    return float(np.sum(n / life_))


def history_damage(ranges: Numbers, counts: Numbers, exponent: float, constant: float) -> float:
    """Damage of counted stress ranges on a Basquin line in amplitude, D = sum n_i (range_i/2)^k/C.

    ranges [Pa] >= 0 and counts [cycles] >= 0, (n,); exponent k 1 to 30, constant C [Pa^k] > 0 of N = C S_a^-k. No
    endurance limit, no mean stress. Source: Palmgren and Miner, Basquin. ValueError out of range.
    """
    k = float(within("exponent k", exponent, least=1.0, most=30.0))
    amplitude = not_negative("ranges", ranges) / 2.0
    return float(np.sum(not_negative("counts", counts) * amplitude**k) / float(positive("constant C", constant)))
