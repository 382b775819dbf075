"""The standard low-pass filter of impact tests."""

from __future__ import annotations

import math

from firstoff.physics.jit import part
from firstoff.physics.ranges import FloatArray


@part
def cfc(signal: FloatArray, count: int, interval: float, channel_class: float) -> None:
    """Filter the first `count` samples in place, forwards and backwards: four poles without shift of phase.

    w_a = tan(2 pi 2.0775 CFC T/2); a0 = w_a^2/(1 + sqrt2 w_a + w_a^2), a1 = 2 a0, a2 = a0,
    b1 = -2 (w_a^2 - 1)/(1 + sqrt2 w_a + w_a^2), b2 = (-1 + sqrt2 w_a - w_a^2)/(1 + sqrt2 w_a + w_a^2);
    y_k = a0 x_k + a1 x_k-1 + a2 x_k-2 + b1 y_k-1 + b2 y_k-2, at rest before and after.

    interval T [s], T < 1/(20 CFC); channel_class CFC [Hz]: 60, 180. Source: ISO 6487 and SAE J211-1 (from memory).
    """
    w = math.tan(math.pi * channel_class * 2.0775 * interval)
    under = 1.0 + math.sqrt(2.0) * w + w * w
    a0, b1, b2 = w * w / under, -2.0 * (w * w - 1.0) / under, (-1.0 + math.sqrt(2.0) * w - w * w) / under
    for way in range(2):
        x1, x2, y1, y2 = 0.0, 0.0, 0.0, 0.0
        for k in range(count):
            i = k if way == 0 else count - 1 - k
            x = signal[i]
            y = a0 * (x + 2.0 * x1 + x2) + b1 * y1 + b2 * y2
            x2, x1, y2, y1 = x1, x, y1, y
            signal[i] = y
