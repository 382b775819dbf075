"""Scrambled Sobol points that can be asked for by index: any chunk, in any order, from any worker."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.stats import qmc

FloatArray = npt.NDArray[np.float64]
WordArray = npt.NDArray[np.uint32]

BITS = 32  # digits of one coordinate: a normal deviate reaches ±6.3 standard deviations
MOST_POINTS = 2**30
MOST_DIMENSIONS = int(qmc.Sobol.MAXDIM)
_LOW_BITS = 12  # a block of 2^12 points is made by doubling; a higher index only shifts it


def points(dims: int, start: int, stop: int, seed: int, replicate: int = 0) -> FloatArray:
    """Points `start` to `stop - 1` of one scrambled Sobol sequence, strictly inside the unit cube.

    The dimensions of the sequence are dealt out at random for each scramble.

    x_i = x_0 XOR (over the bits k of i) (x_{2^k} XOR x_0): the Gray-code order of the sequence is linear over the
    two-element field, so any point follows from x_0 and the points whose index is a power of two. u = (x + 1/2) / 2^32
    is never 0 or 1.

    dims: dimensions, 0 to 21201. start, stop: indices, 0 <= start <= stop <= 2^30. seed, replicate: whole numbers >= 0;
    each pair is a scramble of its own. Returns (stop - start, dims), equal to the last bit however the indices are cut
    into chunks. Raises ValueError outside these ranges.

    Sources: Antonov & Saleev (1979), USSR Comput. Math. Math. Phys. 19, 252 (Gray-code order); Joe & Kuo (2008), SIAM
    J. Sci. Comput. 30, 2635 (direction numbers); Matousek (1998), J. Complexity 14, 527 (linear scramble and shift).
    """
    if dims > MOST_DIMENSIONS:
        raise ValueError(f"{dims} scattering values; the Sobol sequence reaches {MOST_DIMENSIONS} dimensions")
    if not 0 <= start <= stop <= MOST_POINTS:
        raise ValueError(f"points {start} to {stop}: the first is 0 and the last index is below {MOST_POINTS}")
    if seed < 0 or replicate < 0:
        raise ValueError(f"seed {seed} and replicate {replicate} must be whole numbers, 0 or more")
    if dims < 1 or start == stop:
        return np.empty((stop - start, max(dims, 0)))
    origin, steps = _basis(dims, seed, replicate, max((stop - 1).bit_length(), 1))
    low_bits = min(_LOW_BITS, len(steps))
    words = np.empty((stop - start, dims), dtype=np.uint32)
    size = 1 << low_bits
    block = _span(steps[:low_bits])
    for first in range(start - start % size, stop, size):
        begin, end = max(start, first), min(stop, first + size)
        offset = origin.copy()
        for bit in range(low_bits, len(steps)):
            if first >> bit & 1:
                offset ^= steps[bit]
        words[begin - start : end - start] = block[begin - first : end - first] ^ offset
    return np.asarray((words + 0.5) * 2.0**-BITS, dtype=np.float64)


def _span(steps: WordArray) -> WordArray:
    """Every XOR combination of `steps`: row j combines the steps at the set bits of j."""
    rows = np.zeros((1 << len(steps), steps.shape[1]), dtype=np.uint32)
    for bit, step in enumerate(steps):
        rows[1 << bit : 2 << bit] = rows[: 1 << bit] ^ step
    return rows


@lru_cache(maxsize=64)
def _basis(dims: int, seed: int, replicate: int, bits: int) -> tuple[WordArray, WordArray]:
    """x_0 as 32-bit words (dims,), and x_{2^k} XOR x_0 for k < bits (bits, dims)."""
    sampler = qmc.Sobol(dims, scramble=True, bits=BITS, rng=np.random.default_rng([seed, replicate]))
    origin = _words(sampler)
    steps = np.empty((bits, dims), dtype=np.uint32)
    for bit in range(bits):
        ahead = (1 << bit) - sampler.num_generated
        if ahead:
            sampler.fast_forward(ahead)
        steps[bit] = _words(sampler) ^ origin
    # A pair of dimensions that the sequence fills badly is the same pair in every scramble. Dealing the dimensions out
    # anew for each keeps one bad pair from hiding the same rare corner of two parameters from all scrambles together.
    deal = np.random.default_rng([seed, replicate, dims]).permutation(dims)
    origin, steps = origin[deal], np.ascontiguousarray(steps[:, deal])
    origin.flags.writeable = steps.flags.writeable = False  # shared by all callers
    return origin, steps


def _words(sampler: qmc.Sobol) -> WordArray:
    """The next point in whole 32-bit words; a 32-bit fraction is exact in a double."""
    return np.asarray(np.rint(sampler.random(1)[0] * 2.0**BITS), dtype=np.uint32)
