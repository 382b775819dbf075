"""Replay several cranes along the track: no crossing, the separation kept, time enough to get out of the way.

Between cranes that are not neighbours there must be room for those in between: one separation for each step.

Written apart from the solvers' rule: each trip fixes its crane to a place at two instants and to a stretch of track in
between; every two fixed places of different cranes are compared.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from firstoff.line.case import Line
from firstoff.line.replay import Trip


def track_faults(line: Line, trips: Sequence[Trip], separation: Fraction) -> list[str]:
    """Every two trips of different cranes that come too near each other."""
    at = line.position
    if at is None:
        return ["where the places stand is not known"]
    slowness = Fraction(0)
    for a in range(1, line.moves + 1):
        for b in range(line.moves):
            if at[a] != at[b]:
                slowness = max(slowness, line.empty_move[a - 1][b] / abs(at[a] - at[b]))
    steps = max(t.crane for t in trips) - min(t.crane for t in trips)
    reach = max(max(row) for row in line.empty_move) + steps * separation * slowness
    faults = []
    for k, one in enumerate(trips):
        for two in trips[k + 1 :]:
            if two.start >= one.end + reach:
                break
            if one.crane == two.crane:
                continue
            together = two.start < one.end
            low, high = (one, two) if one.crane < two.crane else (two, one)
            if together:
                room = min(at[high.move], at[high.move + 1]) - max(at[low.move], at[low.move + 1])
                apart = Fraction(0)
            else:
                ends = {one: at[one.move + 1], two: at[two.move]}
                room = ends[high] - ends[low]
                apart = two.start - one.end
            needed = (high.crane - low.crane) * separation
            if room >= needed:
                continue
            clearing = (needed - max(room, Fraction(0))) * slowness
            if not together and room <= 0:
                clearing += line.empty_move[one.move][two.move]
            if together or clearing > apart:
                faults.append(
                    f"cranes {low.crane + 1} and {high.crane + 1} come nearer than {needed}: moves {low.move} and "
                    f"{high.move}"
                )
    return faults
