"""Bore of a welded tube after a mandrel has been pushed through it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


def bore_after_mandrel(
    welded_bore: FloatArray, mandrel: FloatArray, yield_strength: FloatArray, modulus: FloatArray
) -> FloatArray:
    """Bore left when a thin elastic-perfectly plastic ring is expanded to the mandrel's diameter and let go.

    d = max(d_w, d_m / (1 + s_y / E))

    The ring yields once its hoop strain exceeds s_y/E and recovers that elastic strain when the mandrel has passed; a
    ring that never yielded (or is wider than the mandrel) keeps its welded bore.

    Parameters: `welded_bore` d_w [m] (n,), > 0; `mandrel` d_m [m] (n,), > 0; `yield_strength` s_y [Pa] (n,), hoop
    direction, as welded; `modulus` E [Pa] (n,). Range: wall under a tenth of the bore, expansion under 3 %. No error is
    raised: inputs of another range give a bore of another range, which the caller flags.

    Source: hoop stress of a thin ring and Hooke's law (any strength-of-materials text); unloading is elastic.
    """
    return np.maximum(welded_bore, mandrel / (1.0 + yield_strength / modulus))


def is_sized(
    welded_bore: FloatArray, mandrel: FloatArray, yield_strength: FloatArray, modulus: FloatArray
) -> npt.NDArray[np.bool_]:
    """Whether the mandrel made the ring yield: d_m / d_w - 1 > s_y / E. Arguments as in `bore_after_mandrel`."""
    return mandrel / welded_bore - 1.0 > yield_strength / modulus
