"""A transfer line cut into stages by buffers."""

from __future__ import annotations

import math

from firstoff.methods.ranges import not_negative, real, whole


def line_efficiency(stations: int, stop_rate: float, cycle: float, down: float) -> float:
    """Efficiency of linked stations without a buffer, E = T_c/(T_c + F T_d), F = n p.

    stations n; stop_rate p: stops of one station a cycle, 0 to below 1; cycle T_c [s] > 0; down T_d [s] >= 0, mean
    of a stop. Source: Groover, Automation, Production Systems, and CIM, ch. 16. ValueError out of range.
    """
    p = not_negative("stops a cycle", stop_rate)
    if p >= 1.0:
        raise ValueError("stops a cycle of one station must be below 1")
    tc = real("cycle time", cycle, above=0.0)
    return tc / (tc + whole("stations", stations, 1, 100_000) * p * not_negative("down time", down))


def unlimited_buffers(stations: int, per_stage: int, stop_rate: float, cycle: float, down: float) -> float:
    """Efficiency with unlimited buffers between stages of `per_stage` stations: that of the worst stage.

    1 <= per_stage <= stations (a last, smaller stage is not the worst); other arguments as in `line_efficiency`.
    Source: as there, examples 16A.2 to 16A.4. ValueError out of range.
    """
    return line_efficiency(whole("stations per stage", per_stage, 1, stations), stop_rate, cycle, down)


def buffer_share(buffer: float, cycle: float, down: float) -> float:
    """Share h(b) of the time a stage is down in which the other works on, two equal stages, constant repair time.

    h = B/(B + 1) + L (T_c/T_d)/((B + 1)(B + 2)), b = B T_d/T_c + L, B whole, 0 <= L < T_d/T_c.

    buffer b [parts] >= 0; cycle T_c, down T_d [s] > 0. Source: Buzacott, in Groover ch. 16 (from memory). ValueError
    out of range.
    """
    room, tc, td = not_negative("buffer", buffer), real("cycle", cycle, above=0.0), real("down time", down, above=0.0)
    b = math.floor(room * tc / td + 1e-9)
    left = max(room - b * td / tc, 0.0)
    return b / (b + 1.0) + left * tc / td / ((b + 1.0) * (b + 2.0))


def one_buffer(stations: int, stop_rate: float, cycle: float, down: float, buffer: float) -> float:
    """Efficiency of a line of two equal stages with one buffer, E = E0 + D1 h(b) E2.

    D1 = F1 T_d/(T_c + (F1 + F2) T_d): share of time that the first stage would stop the whole line; E2: efficiency of
    the second alone. stations even; other arguments as in `line_efficiency` and `buffer_share`. Source: as there.
    ValueError out of range.
    """
    n = whole("stations", stations, 2, 100_000)
    if n % 2:
        raise ValueError("stations must be even: the formula is for two equal stages")
    whole_line, half = line_efficiency(n, stop_rate, cycle, down), line_efficiency(n // 2, stop_rate, cycle, down)
    share = whole_line * (n // 2) * stop_rate * down / cycle
    return whole_line + share * buffer_share(buffer, cycle, down) * half
