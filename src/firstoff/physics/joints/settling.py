"""What embedding and warmth do to parts that are bolted together."""

from __future__ import annotations

from typing import Final

import numpy as np

from firstoff.physics.ranges import FloatArray, Numbers, not_negative, positive, within

# linear expansion [1/K]: handbook values, from memory; fillers and direction move those of plastics by a fifth and more
EXPANSION: Final = {
    "steel": 12e-6, "aluminium": 23e-6, "pp": 110e-6, "pp_talc": 75e-6, "abs": 90e-6, "pc_abs": 75e-6, "pa6": 85e-6,
}  # fmt: skip


def embedding_loss(depth: Numbers, bolt: Numbers, clamped: Numbers) -> FloatArray:
    """Preload lost as faces settle, F_Z = f_Z k_b k_p/(k_b + k_p) [N].

    depth f_Z [m] >= 0, of all faces and threads together; stiffness of the bolt k_b and of the clamped parts k_p [N/m]
    > 0; any one shape. Source: VDI 2230 part 1, springs in series. ValueError out of range.
    """
    kb, kp = positive("stiffness of the bolt", bolt), positive("stiffness of the clamped parts", clamped)
    return not_negative("embedding", depth) * kb * kp / (kb + kp)


def growth(length: Numbers, expansion: Numbers, base: Numbers, rise: Numbers) -> FloatArray:
    """How much longer a part grows than what it is fixed to, dL = (alpha - alpha_0) L dT [m].

    length L [m] > 0; expansion alpha and base alpha_0 [1/K], 0 to 1e-3; rise dT [K], either sign; any one shape.
    Source: linear expansion (textbook). ValueError out of range.
    """
    own = within("expansion", expansion, least=0.0, most=1e-3) - within("expansion", base, least=0.0, most=1e-3)
    found: FloatArray = own * positive("length", length) * np.asarray(rise, np.float64)
    return found
