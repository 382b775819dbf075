"""Made lines for the crane's bench: the recipe behind the reference cases `rand_*`, `multi_tank_*` and `*_x2`.

Gaps between neighbouring places are whole numbers 1 to 3, least soaks 30 to 180, most soaks 1.2 to 2.0 times the least
and absent with probability 0.15; a loaded move takes 20 and the distance, an empty one the distance.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from firstoff.line.case import Line, Stage

BETWEEN_COPIES = 5  # what an empty move between two neighbouring copies of a line costs more than within one


def made_line(n: int, seed: int, long_soaks: int = 0) -> Line:
    """A straight line of n stages; `long_soaks` of them, spread evenly, get 2 to 4 tanks and a soak to fill them."""
    rng = np.random.default_rng(seed)
    at = [0, *np.cumsum(rng.integers(1, 4, n)).tolist(), 0]
    least = rng.integers(30, 181, n)
    factor, absent = rng.uniform(1.2, 2.0, n), rng.random(n) < 0.15
    stages = [
        Stage(Fraction(int(s)), None if no else Fraction(int(s * f)))
        for s, f, no in zip(least, factor, absent, strict=True)
    ]
    for k in range(long_soaks):
        where, tanks = (2 * k + 1) * n // (2 * long_soaks), int(rng.integers(2, 5))
        soak = int(rng.integers(180, 240)) * tanks
        stages[where] = Stage(Fraction(soak), Fraction(int(1.25 * soak)), tanks)
    loaded = tuple(Fraction(20 + abs(at[i + 1] - at[i])) for i in range(n + 1))
    empty = tuple(tuple(Fraction(abs(at[r + 1] - at[c])) for c in range(n + 1)) for r in range(n + 1))
    name = f"made n={n} seed={seed}" + (f" with {long_soaks} long soaks" if long_soaks else "")
    return Line(name, tuple(stages), loaded, empty, position=tuple(Fraction(a) for a in at))


def in_a_row(line: Line, copies: int) -> Line:
    """The line several times in a row: the load place with the first copy, the unload place with the last."""
    n = line.n
    places = [(0, 0), *((copy, place) for copy in range(copies) for place in range(1, n + 1)), (copies - 1, n + 1)]
    apart = {
        (a, b): line.empty_move[a[1] - 1][b[1]] + BETWEEN_COPIES * abs(a[0] - b[0])
        for a in places[1:]
        for b in places[:-1]
    }
    loaded = (line.loaded_move[0], *((*line.loaded_move[1:n], line.loaded_move[n]) * copies))
    empty = tuple(tuple(apart[a, b] for b in places[:-1]) for a in places[1:])
    return Line(f"{line.name} x {copies}", line.stages * copies, loaded, empty, shared_load_place=False)
