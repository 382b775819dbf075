"""A strip of sheet through its thickness: bent, stretched, straightened, squeezed and let go, with mixed hardening.

The same layers serve the fibres of a whole section when the bar itself is bent in plan.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.physics.jit import njit
from firstoff.physics.status import NO_VALUE, NOT_CONVERGED, OK

FloatArray = npt.NDArray[np.float64]
StatusArray = npt.NDArray[np.uint8]

# a row of material
MATERIAL_FIELDS: Final = (
    "modulus",  # Pa, along the strip: E / (1 - nu2) of a wide sheet
    "strength",  # Pa, factor of the flow curve along the strip
    "exponent",  # 1, n
    "pre_strain",  # 1, eps0
    "factor",  # 1, effective strain over strip strain
    "kinematic",  # 1, share of the hardening that moves the yield range instead of widening it
)
MODULUS, STRENGTH, EXPONENT, PRE_STRAIN, FACTOR, KINEMATIC = 0, 1, 2, 3, 4, 5
# columns of a layer's state
STRESS, BACK, PLASTIC, FLOW = 0, 1, 2, 3
STATE = 4
# kinds of a step
REST: Final = 0.0  # nothing
BEND: Final = 1.0  # to a curvature, under a tension
SQUEEZE: Final = 2.0  # by a membrane strain, at the curvature it has
RELEASE: Final = 3.0  # until neither force nor moment is left
SUBSTEPS: Final = 4  # of a bend or a squeeze: 40 change the curl by 0.1 %
RELEASE_STEPS: Final = 2
MOST_NEWTON: Final = 40
MOST_RETURN: Final = 30
MOST_HALVINGS: Final = 12
CLOSE: Final = 1e-7  # of the first yield force, where a search ends
LARGEST_STRAIN: Final = 2.0  # of the membrane; beyond it the strip has torn


def layers(count: int) -> tuple[FloatArray, FloatArray]:
    """Places xi = y/t (count,) in -1/2..1/2 and weights (count,), sum 1, of a sheet's layers.

    Midpoints of equal layers, moved so that a linear stress has its exact moment: sum w xi2 = 1/12.
    Source: midpoint rule; textbook.
    """
    middle = (np.arange(count) + 0.5) / count - 0.5
    weight = np.full(count, 1.0 / count)
    return middle * np.sqrt(1.0 / 12.0 / float(weight @ middle**2)), weight


@njit("Tuple((f8, f8))(f8, f8[::1])", inline=True)
def flow(plastic: float, material: FloatArray) -> tuple[float, float]:
    """Flow stress along the strip and its slope, h(p) = K' (eps0 + f p)^n, h'(p).

    plastic p [1] >= 0: plastic strain of the strip, added up; material: a row of MATERIAL_FIELDS. A perfectly plastic
    strip has n = 0. Source: Swift's law; plane-strain factors as in `flow_curve`.
    """
    reached = material[PRE_STRAIN] + material[FACTOR] * plastic
    n = material[EXPONENT]
    if n == 0.0:
        return material[STRENGTH], 0.0
    h = material[STRENGTH] * reached**n
    return h, n * material[FACTOR] * h / reached


@njit("f8(f8[::1], f8[::1], f8, f8[::1], f8)", inline=True)
def layer(old: FloatArray, new: FloatArray, strain: float, material: FloatArray, first: float) -> float:
    """One layer strained further, from `old` to `new` (rows of a state); its tangent [Pa].

    |s_tr - a| - E dp - Y(p) - (h(p + dp) - h(p)) = 0 with Y(p) = h(0) + (1 - m)(h(p) - h(0)); of the hardening
    h(p + dp) - h(p) the share m moves the range (a), the rest widens it. Along one direction the curve is h(p) for any
    m; after a reversal the layer yields the sooner the larger m.

    strain [1], first = h(0) [Pa]. Source: mixed hardening after Hodge; radial return (Simo and Hughes, Computational
    Inelasticity, section 1.6, from memory).
    """
    modulus, m = material[MODULUS], material[KINEMATIC]
    trial = old[STRESS] + modulus * strain
    over = trial - old[BACK]
    size = abs(over)
    before = old[FLOW] if old[PLASTIC] > 0.0 else first
    limit = first + (1.0 - m) * (before - first)
    plastic = old[PLASTIC]
    if size <= limit:
        new[STRESS], new[BACK], new[PLASTIC], new[FLOW] = trial, old[BACK], plastic, before
        return modulus
    # h is concave: Newton from below climbs to the root without overshooting
    slope = material[EXPONENT] * material[FACTOR] * before / (material[PRE_STRAIN] + material[FACTOR] * plastic)
    more = (size - limit) / (modulus + slope)
    now = before
    for _ in range(MOST_RETURN):
        now, slope = flow(plastic + more, material)
        miss = size - modulus * more - limit - (now - before)
        step = miss / (modulus + slope)
        more += step
        if abs(miss) < CLOSE * first:
            now += slope * step
            break
    sign = 1.0 if over > 0.0 else -1.0
    new[STRESS] = trial - sign * modulus * more
    new[BACK] = old[BACK] + sign * m * (now - before)
    new[PLASTIC] = plastic + more
    new[FLOW] = now
    return modulus * slope / (modulus + slope)


@njit("Tuple((f8, f8, f8, f8, f8))(f8[:,::1], f8[:,::1], f8, f8, f8, f8[::1], f8[::1], f8[::1], f8)")
def _strain_all(
    old: FloatArray, new: FloatArray, membrane: float, bend: float, thickness: float, places: FloatArray,
    weights: FloatArray, material: FloatArray, first: float,
) -> tuple[float, float, float, float, float]:  # fmt: skip
    """All layers strained by membrane + y bend: force N, moment M, dN/de, dN/dk, dM/dk per width."""
    force = moment = by_stretch = mixed = by_bend = 0.0
    for i in range(len(places)):
        y = places[i] * thickness
        tangent = layer(old[i], new[i], membrane + y * bend, material, first)
        stress = new[i, STRESS]
        w = weights[i] * thickness
        force += w * stress
        moment += w * y * stress
        by_stretch += w * tangent
        mixed += w * y * tangent
        by_bend += w * y * y * tangent
    return force, moment, by_stretch, mixed, by_bend


@njit("Tuple((f8, f8, i8))(f8[:,::1], f8[:,::1], f8, f8, f8, f8[::1], f8[::1], f8[::1], f8, f8, f8)")
def _bend_once(
    old: FloatArray, new: FloatArray, bend: float, tension: float, thickness: float, places: FloatArray,
    weights: FloatArray, material: FloatArray, first: float, area: float, guess: float,
) -> tuple[float, float, int]:  # fmt: skip
    """One change of curvature at a given tension: membrane strain, moment, status. Newton, with a bracket about it."""
    slack = CLOSE * first * area
    low, high = -LARGEST_STRAIN, LARGEST_STRAIN
    e, moment = guess, 0.0
    for _ in range(MOST_NEWTON):
        force, moment, slope, _, _ = _strain_all(old, new, e, bend, thickness, places, weights, material, first)
        miss = force - tension
        if abs(miss) < slack:
            return e, moment, OK
        if miss > 0.0:
            high = e
        else:
            low = e
        following = e - miss / slope if slope > 1e-12 * material[MODULUS] * area else low
        if not low < following < high:
            following = 0.5 * (low + high)
        if high - low < 1e-9:
            break
        e = following
    # a perfectly plastic strip of few layers has steps in its force: the step itself is then the answer
    if high - low < 1e-6 and abs(e) < 0.5 * LARGEST_STRAIN:
        return e, moment, OK
    return e, moment, NO_VALUE if abs(e) > 0.25 * LARGEST_STRAIN else NOT_CONVERGED


@njit("Tuple((f8, f8, i8))(f8[:,::1], f8[:,::1], f8, f8[::1], f8[::1], f8[::1], f8, f8[::1], f8)")
def _release_once(
    old: FloatArray, new: FloatArray, thickness: float, places: FloatArray, weights: FloatArray,
    material: FloatArray, first: float, second: FloatArray, left: float,
) -> tuple[float, float, int]:  # fmt: skip
    """Force and moment brought down to the share `left` of what they are: membrane strain, change of curvature.

    second: area and its first and second moments about the middle.
    """
    force, moment, _, _, _ = _strain_all(old, new, 0.0, 0.0, thickness, places, weights, material, first)
    wanted_force, wanted_moment = left * force, left * moment
    slack = CLOSE * first * second[0]
    # the first guess is elastic
    a, b, d = material[MODULUS] * second[0], material[MODULUS] * second[1], material[MODULUS] * second[2]
    reach = np.sqrt(second[2] / second[0])
    e = k = 0.0
    off, turn = wanted_force - force, wanted_moment - moment
    for _ in range(MOST_NEWTON):
        if abs(off) < slack and abs(turn) < slack * reach:
            return e, k, OK
        det = a * d - b * b
        by_e, by_k = (off * d - turn * b) / det, (turn * a - off * b) / det
        left_over = off**2 + (turn / reach) ** 2
        share = 1.0
        for _ in range(MOST_HALVINGS):  # layers that yield in reverse bend the force away from a full step
            force, moment, a, b, d = _strain_all(
                old, new, e + share * by_e, k + share * by_k, thickness, places, weights, material, first
            )
            off, turn = wanted_force - force, wanted_moment - moment
            if off**2 + (turn / reach) ** 2 < left_over:
                break
            share *= 0.5
        e += share * by_e
        k += share * by_k
    return e, k, NOT_CONVERGED


@njit("i8(f8[:,::1], f8[:,::1], f8[::1], f8[:,::1], f8, f8[::1], f8[::1], f8[::1], f8[::1], f8[:,::1])")
def _walk_one(
    state: FloatArray, other: FloatArray, shape: FloatArray, program: FloatArray, thickness: float,
    places: FloatArray, weights: FloatArray, material: FloatArray, second: FloatArray, after: FloatArray,
) -> int:  # fmt: skip
    """One strip through its steps; `state` and `shape` (curvature, membrane strain, tension) are moved on."""
    first, _ = flow(0.0, material)
    second[:] = 0.0
    for i in range(len(places)):
        second[0] += weights[i] * thickness
        second[1] += weights[i] * places[i] * thickness**2
        second[2] += weights[i] * places[i] ** 2 * thickness**3
    status = OK
    for s in range(len(program)):
        kind = program[s, 0]
        moment = 0.0
        if kind == BEND:
            from_bend, from_tension, e = shape[0], shape[2], 0.0
            for i in range(SUBSTEPS):
                share = (i + 1.0) / SUBSTEPS
                tension = from_tension + share * (program[s, 2] - from_tension)
                bend = from_bend + share * (program[s, 1] - from_bend)
                e, moment, flag = _bend_once(
                    state, other, bend - shape[0], tension, thickness, places, weights, material, first, second[0], e
                )
                state[:, :] = other
                shape[0], shape[2] = bend, tension
                shape[1] += e
                status |= flag
                if flag == NO_VALUE:
                    return status
        elif kind == SQUEEZE:
            for _ in range(SUBSTEPS):
                e = program[s, 1] / SUBSTEPS
                force, moment, _, _, _ = _strain_all(state, other, e, 0.0, thickness, places, weights, material, first)
                state[:, :] = other
                shape[2] = force
            shape[1] += program[s, 1]
        elif kind == RELEASE:
            for i in range(RELEASE_STEPS):
                left = 1.0 - 1.0 / (RELEASE_STEPS - i)
                e, k, flag = _release_once(state, other, thickness, places, weights, material, first, second, left)
                state[:, :] = other
                shape[0] += k
                shape[1] += e
                status |= flag
            shape[2] = 0.0
        after[s, 0], after[s, 1], after[s, 2] = shape[0], shape[1], moment
    return status


@njit("void(f8[:,:,:,::1], f8[:,:,::1], f8[:,:,:,::1], f8[:,::1], f8[::1], f8[::1], f8[:,::1], f8[:,:,:,::1], u1[::1])")
def _walk_all(
    state: FloatArray, shape: FloatArray, program: FloatArray, thickness: FloatArray, places: FloatArray,
    weights: FloatArray, material: FloatArray, after: FloatArray, status: StatusArray,
) -> None:  # fmt: skip
    other = np.empty((state.shape[2], state.shape[3]))
    second = np.empty(3)
    for b in range(state.shape[0]):
        for k in range(state.shape[1]):
            status[b] |= _walk_one(
                state[b, k], other, shape[b, k], program[b, k], thickness[b, k], places, weights, material[b],
                second, after[b, k],
            )  # fmt: skip


@dataclass(frozen=True)
class Strips:
    """n builds of k strips, where they have come to."""

    state: FloatArray  # (n, k, layers, 4): stress, back stress [Pa], plastic strain, flow stress [Pa]
    shape: FloatArray  # (n, k, 3): curvature [1/m], membrane strain, tension per width [N/m]

    @property
    def curvature(self) -> FloatArray:
        return self.shape[:, :, 0]

    @property
    def membrane(self) -> FloatArray:
        return self.shape[:, :, 1]


def flat(builds: int, strips: int, count: int) -> Strips:
    """Flat sheet without stress."""
    return Strips(np.zeros((builds, strips, count, STATE)), np.zeros((builds, strips, 3)))


def walk(
    strips: Strips, program: FloatArray, thickness: FloatArray, places: FloatArray, weights: FloatArray,
    material: FloatArray,
) -> tuple[Strips, FloatArray, StatusArray]:  # fmt: skip
    """Strips taken through a program of steps: where they come to, what they were after each step, status per build.

    Layers are strained by e + kappa y; BEND finds e by sum(w sigma) t = T at every step, RELEASE e and kappa by N = 0
    and M = 0, plasticity in reverse included.

    program (n, k, steps, 3): kind; curvature [1/m] and tension per width [N/m] of a BEND, membrane strain of a
    SQUEEZE. thickness t (n, k) [m] > 0; places y/t and weights (layers,) as `layers` gives them; material (n, 6): rows
    of MATERIAL_FIELDS. Returns new strips, (n, k, steps, 3): curvature, membrane strain, moment per width [N] at the
    end of each step; status (n,): NO_VALUE where the tension is more than the strip can carry.

    Range: strain small against one, e + kappa y taken linear; r/t of 2 and more: assumed. Source: bending under
    tension of a wide sheet, e.g. Marciniak, Duncan and Hu, Mechanics of Sheet Metal Forming, chapter 6 (from memory).
    """
    state, shape = (np.array(a, dtype=np.float64, order="C") for a in (strips.state, strips.shape))
    after = np.zeros((*program.shape[:3], 3))
    status = np.zeros(len(state), np.uint8)
    ready = (np.ascontiguousarray(a, dtype=np.float64) for a in (program, thickness, places, weights, material))
    steps, t, y, w, rows = ready
    _walk_all(state, shape, steps, t, y, w, rows, after, status)
    return Strips(state, shape), after, status
