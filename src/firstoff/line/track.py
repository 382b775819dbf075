"""Cranes on one track by true position: which moves may be under way together, and what time lies between others.

The cranes keep their order and a least separation between neighbours; two that are not neighbours leave room for those
in between. While a load is carried, its crane may be anywhere between the two
places, so two moves are together only when their stretches of track lie apart in the right order. One after the other,
the crane that is done must get out of the way of the other: the empty move to the other's place, and the separation at
the pace of the slowest empty move. Where empty moves take time in proportion to the way, these conditions between pairs
are also enough: each crane can follow the least line that keeps all of them.
Beyond both ends of the line there is taken to be room for a crane to stand.
"""

from __future__ import annotations

from fractions import Fraction

from firstoff.errors import InputFault, Message
from firstoff.line.case import Line


def pace(line: Line) -> Fraction:
    """Most time per unit of track that an empty move takes."""
    at = positions(line)
    found = [
        line.empty_move[r][c] / abs(at[r + 1] - at[c])
        for r in range(line.moves)
        for c in range(line.moves)
        if at[r + 1] != at[c]
    ]
    return max(found, default=Fraction(0))


def positions(line: Line) -> tuple[Fraction, ...]:
    """Where the places stand; two cranes cannot be planned without."""
    if line.position is None:
        raise InputFault([Message("two cranes need to know where the places stand", line.name, 0, "track_position")])
    return line.position


def free(line: Line, left: int, right: int, separation: Fraction) -> bool:
    """Whether the left crane's move and the right crane's may be under way together."""
    at = positions(line)
    return max(at[left], at[left + 1]) + separation <= min(at[right], at[right + 1])


def gap_between_cranes(
    line: Line, i: int, j: int, i_is_left: bool, separation: Fraction, slowness: Fraction | None = None
) -> Fraction | None:
    """Least time from the start of move i of one crane to the start of the later move j of the other; None: any.

    `slowness`: the line's pace, when it is at hand.
    """
    at = positions(line)
    if free(line, i, j, separation) if i_is_left else free(line, j, i, separation):
        return None
    end, begin = at[i + 1], at[j]
    room = begin - end if i_is_left else end - begin  # on the right side of each other when positive
    gap = line.loaded_move[i]
    slowness = pace(line) if slowness is None else slowness
    if room <= 0:
        gap += line.empty_move[i][j] + separation * slowness
    elif room < separation:
        gap += (separation - room) * slowness
    if line.shared_load_place and i == line.n and j == 0:
        gap = max(gap, line.loaded_move[i] + line.turnaround)
    return gap
