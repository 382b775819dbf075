"""A tube made narrower: drawn through a die (sinking), or a die pushed over its end."""

from __future__ import annotations

import math

import numpy as np

from firstoff.physics.ranges import FloatArray, Numbers, not_negative, positive, within


def _reduction(
    before: Numbers, after: Numbers, wall: Numbers, flow_stress: Numbers, friction: Numbers, half_angle: Numbers
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """r0, r1, t, Y, B = mu cot(alpha), checked."""
    r0, r1, t = positive("radius before", before), positive("radius after", after), positive("wall", wall)
    if not np.all(r1 < r0):
        raise ValueError("the radius after the die must be below the radius before it")
    if not np.all(t < r1):
        raise ValueError("the wall must be below the mean radius after the die")
    angle = within("half angle of the die", half_angle, above=0.0, below=math.pi / 2.0)
    b = within("friction coefficient", friction, least=0.0, most=1.0) / np.tan(angle)
    return r0, r1, t, positive("flow stress", flow_stress), not_negative("mu cot(alpha)", b)


def sinking_draw(
    radius_before: Numbers,
    radius_after: Numbers,
    wall: Numbers,
    flow_stress: Numbers,
    friction: Numbers,
    half_angle: Numbers,
) -> tuple[FloatArray, FloatArray]:
    """Drawing stress [Pa] and force [N] of a tube drawn through a conical die without a plug.

    sigma = Y (1 + B)/B (1 - (r1/r0)^B), B = mu cot(alpha); F = sigma 2 pi r1 t. For mu = 0: sigma = Y ln(r0/r1).

    radius_before r0 > radius_after r1 [m], mean radii; wall t [m], kept constant, < r1; flow_stress Y [Pa], mean over
    the pass (some texts multiply it by up to 1.155: do so before); friction mu 0 to 1; half_angle alpha [rad]
    between 0 and pi/2; any one shape. Membrane, no redundant work, no back pull. Source: Sachs and Baldwin's slab
    analysis (from memory). ValueError out of range, and where the stress would exceed Y: the drawn tube itself would
    yield, so one pass cannot do it.
    """
    r0, r1, t, y, b = _reduction(radius_before, radius_after, wall, flow_stress, friction, half_angle)
    log = np.log(r0 / r1)
    # (1 - (r1/r0)^B)/B without loss of digits at small B
    share = np.where(b * log > 0.0, -np.expm1(-b * log) / np.where(b > 0.0, b, 1.0), log)
    stress = y * (1.0 + b) * share
    if not np.all(stress < y):
        raise ValueError("the drawing stress would exceed the flow stress: the reduction needs more than one pass")
    return stress, stress * 2.0 * math.pi * r1 * t


def end_push(
    radius_before: Numbers,
    radius_after: Numbers,
    wall: Numbers,
    flow_stress: Numbers,
    friction: Numbers,
    half_angle: Numbers,
) -> tuple[FloatArray, FloatArray]:
    """Axial stress in the unreduced tube [Pa] and push [N] when a conical die is pushed over a tube's end.

    sigma = Y (1 + B)(1 - r1/r0), B = mu cot(alpha); F = sigma 2 pi r0 t.

    Arguments as in `sinking_draw`. Membrane equilibrium d(sigma r)/dr = Y (1 + B) with the hoop stress at -Y (Tresca),
    free edge at r1, wall constant. Source: derived from that equation. ValueError out of range, and where the stress
    would reach Y: the tube would upset behind the die.
    """
    r0, r1, t, y, b = _reduction(radius_before, radius_after, wall, flow_stress, friction, half_angle)
    stress = y * (1.0 + b) * (1.0 - r1 / r0)
    if not np.all(stress < y):
        raise ValueError("the push would reach the flow stress of the tube, which would upset behind the die")
    return stress, stress * 2.0 * math.pi * r0 * t
