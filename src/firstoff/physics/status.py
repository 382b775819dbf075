"""Status bits that kernels return per build: the numbers of the chain's `Status`, which physics must not import."""

from __future__ import annotations

from typing import Final

OK: Final = 0
OUT_OF_RANGE: Final = 1  # an input or result left the range in which the model holds
NOT_CONVERGED: Final = 2
CAVITATING: Final = 4  # a chamber fell to vapour or foam pressure
NO_VALUE: Final = 128  # nothing usable came out
