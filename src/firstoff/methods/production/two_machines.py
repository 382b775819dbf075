"""Two unreliable machines with a buffer between them."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

from firstoff.methods.ranges import real, whole

LARGEST: Final = 20_000  # parts in the buffer


class TwoMachines(NamedTuple):
    """Steady state: parts a cycle, mean stock, probability that the second starves and the first is blocked."""

    rate: float
    stock: float
    starved: float
    blocked: float
    rate_without_buffer: float
    rate_with_endless_buffer: float


def _chance(name: str, value: float) -> float:
    found = real(name, value, above=0.0)
    if found > 1.0:
        raise ValueError(f"{name} must be at most 1, not {found:g}")
    return found


def _chain(
    r1: float, p1: float, r2: float, p2: float, n: int
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64], npt.NDArray[np.float64]]:
    """Moves of the chain: from state, to state, probability. State = 4 stock + 2 up1 + up2."""
    stock = np.arange(n + 1)
    rows, columns, chances = [], [], []
    for up1 in (0, 1):
        for up2 in (0, 1):
            # a machine fails only while it works: not when blocked or starved
            up_next1 = np.where(stock < n, 1.0 - p1, 1.0) if up1 else np.full(n + 1, r1)
            up_next2 = np.where(stock > 0, 1.0 - p2, 1.0) if up2 else np.full(n + 1, r2)
            for next1 in (0, 1):
                for next2 in (0, 1):
                    chance = (up_next1 if next1 else 1.0 - up_next1) * (up_next2 if next2 else 1.0 - up_next2)
                    into = np.where(stock < n, next1, 0) - np.where(stock > 0, next2, 0)
                    rows.append(4 * stock + 2 * up1 + up2)
                    columns.append(4 * (stock + into) + 2 * next1 + next2)
                    chances.append(chance)
    return np.concatenate(rows), np.concatenate(columns), np.concatenate(chances)


def steady_state(r1: float, p1: float, r2: float, p2: float, buffer: int) -> TwoMachines:
    """Two machines of one cycle time with a buffer: steady state of their Markov chain, solved exactly.

    Each cycle states change first, by repair (r) or, while working, failure (p); then machines that are up move a part,
    the first unless the stock was N, the second unless it was 0. Rate = probability that the second is up and not
    starved, = r/(r + p) of either machine as limits; without buffer 1/(1 + p1/r1 + p2/r2), with an endless one the
    smaller r/(r + p).

    r1, p1, r2, p2: chances a cycle, above 0, up to 1; buffer N [parts], all stock between the machines, 4 to 20 000
    (the published model needs 4). Source: Gershwin and Schick's deterministic two-machine line. ValueError out of
    range.
    """
    r1, p1, r2, p2 = (_chance(name, value) for name, value in (("r1", r1), ("p1", p1), ("r2", r2), ("p2", p2)))
    n = whole("N", buffer, 4, LARGEST)
    rows, columns, chances = _chain(r1, p1, r2, p2, n)
    size = 4 * (n + 1)
    # the state (empty, both up) is certainly recurrent when both can fail: its equation is replaced by its own value
    matrix = coo_matrix((chances, (columns, rows)), shape=(size, size)).tolil()
    matrix.setdiag(matrix.diagonal() - 1.0)
    anchor = 4 * (n // 2) + 3
    matrix[anchor, :] = 0.0
    matrix[anchor, anchor] = 1.0
    right = np.zeros(size)
    right[anchor] = 1.0
    flow = np.asarray(spsolve(matrix.tocsc(), right)).reshape(n + 1, 4)
    flow = np.maximum(flow, 0.0) / np.sum(flow)
    works = float(np.sum(flow[1:, 1] + flow[1:, 3]))
    return TwoMachines(
        works,
        float(np.arange(n + 1) @ flow.sum(axis=1)),
        float(flow[0, 1] + flow[0, 3]),
        float(flow[n, 2] + flow[n, 3]),
        1.0 / (1.0 + p1 / r1 + p2 / r2),
        min(r1 / (r1 + p1), r2 / (r2 + p2)),
    )


def interior_ratio(r1: float, p1: float, r2: float, p2: float) -> float:
    """Ratio X of the chance of a stock of n + 1 to that of n, away from the ends, X = Y2/Y1.

    Y1 = (s - r1 p2)/(q - p1 r2), Y2 = (s - r2 p1)/(q - p2 r1), s = r1 + r2 - r1 r2, q = p1 + p2 - p1 p2. Above 1 the
    buffer runs full, below 1 empty. Arguments as in `steady_state`, below 1 all together. Source: Gershwin and Schick.
    """
    r1, p1, r2, p2 = (_chance(name, value) for name, value in (("r1", r1), ("p1", p1), ("r2", r2), ("p2", p2)))
    s, q = r1 + r2 - r1 * r2, p1 + p2 - p1 * p2
    return (s - r2 * p1) / (q - p2 * r1) / ((s - r1 * p2) / (q - p1 * r2))
