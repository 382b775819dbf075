"""Merkle tree hash with separate domains for leaves and nodes (RFC 6962, section 2.1).

MTH({}) = SHA-256(); MTH({d}) = SHA-256(0x00 || d); MTH(D[n]) = SHA-256(0x01 || MTH(D[0:k]) || MTH(D[k:n])) with k the
largest power of two below n.
"""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256

SIZE = 32  # bytes of a hash


def leaf_hash(data: bytes) -> bytes:
    """SHA-256(0x00 || data)."""
    return sha256(b"\x00" + data).digest()


def root_of(hashes: Sequence[bytes]) -> bytes:
    """The root over leaf hashes in their order; of none, the hash of nothing."""
    if not hashes:
        return sha256().digest()
    level = list(hashes)
    while len(level) > 1:
        # pairing from the left and handing an odd one up gives the same tree as splitting at the power of two
        odd = [level[-1]] if len(level) % 2 else []
        pairs = iter(level)
        level = [sha256(b"\x01" + left + right).digest() for left, right in zip(pairs, pairs, strict=False)] + odd
    return level[0]


def split(hashes: bytes) -> list[bytes]:
    """Hashes that were stored end to end."""
    return [hashes[i : i + SIZE] for i in range(0, len(hashes), SIZE)]
