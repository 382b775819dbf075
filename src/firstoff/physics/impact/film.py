"""One hit written down: where the bar, the striker and the car are at every sample, and where the energy is."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np

from firstoff.physics.impact import beam_kernel as bk
from firstoff.physics.impact import beam_parts as bp
from firstoff.physics.impact.beam import CLASS, EVENT
from firstoff.physics.impact.beam_inertia import INERTIA_STEP, inertia_energy, lay_inertia, stable_step
from firstoff.physics.impact.low_pass import cfc
from firstoff.physics.impact.mesh import IntArray, Mesh
from firstoff.physics.impact.moment_curve import MASS
from firstoff.physics.jit import njit, part
from firstoff.physics.ranges import FloatArray

ROWS: Final = 6  # of what is told at every sample: travel of the striker and the car, yaw, force, kinetic, contact
KINETIC, PLASTIC, BRACKETS, ELASTIC, CONTACT = range(5)


class Film(NamedTuple):
    """One hit over time; SI; (s,) samples, the first at rest just before the hit."""

    time: FloatArray  # (s,) s
    nodes: FloatArray  # (s, n, 2) m, seen from the car
    striker: FloatArray  # (s, 2) m, place of its nose, seen from the car
    force: FloatArray  # (s,) N, along the striker's way, unfiltered
    filtered: FloatArray  # (s,) N
    brackets: FloatArray  # (s, k) N, filtered, towards the car positive
    energy: FloatArray  # (s, 5) J: of motion, lost in the bar, lost in the brackets, elastic, in contact and absorber


def film(
    mesh: Mesh, bar: FloatArray, brackets: FloatArray, vehicle: FloatArray, striker: FloatArray,
    end_length: float = 0.0, duration: float = EVENT, channel_class: float = CLASS, slowest: float = INERTIA_STEP,
) -> Film:  # fmt: skip
    """The run of `beam.hit` for one build, with everything written down about every 0.1 ms.

    mesh; bar (13,), brackets (k, 6), vehicle (7,), striker (14,): one row each, as `beam.hit` takes them; end_length
    [m]. Same equations, same step. Source: as `beam.hit`. ValueError where the striker passes by the bar.
    """
    k, n = len(mesh.brackets), len(mesh.nodes)
    most = int(duration / bk.SAMPLE * 1.6) + 2 * bk.LEAD + 10
    places, told = np.zeros((most, n, 2)), np.zeros((most, ROWS))
    energy, loads = np.zeros((most, 5)), np.zeros((2 + k, most))
    one, held, car_row, met = (np.array(row, np.float64, order="C") for row in (bar, brackets, vehicle, striker))
    count, interval = _record(
        np.ascontiguousarray(mesh.nodes), mesh.brackets, mesh.link, mesh.along, mesh.across, one, held, car_row, met,
        end_length, duration, channel_class, slowest, places, told, energy, loads,
    )  # fmt: skip
    if count == 0:
        raise ValueError("the striker passes by the bar")
    lead = bk.LEAD
    travel, car, yaw = told[:count, 0], told[:count, 1], told[:count, 2]
    seen = places[:count].copy()
    seen[..., 1] -= car[:, None] + yaw[:, None] * mesh.nodes[None, :, 0]
    way = np.array([math.sin(striker[bp.ANGLE]), math.cos(striker[bp.ANGLE])])
    nose = np.asarray(striker[[bp.AIM_X, bp.AIM_Y]])[None, :] + travel[:, None] * way[None, :]
    nose[:, 1] -= car
    filtered = loads[:, lead : lead + count]
    time = np.arange(count, dtype=np.float64) * interval
    return Film(time, seen, nose, told[:count, 3], filtered[0], filtered[2:].T, energy[:count])


def outline(mesh: Mesh, nodes: FloatArray) -> FloatArray:
    """Places (c, 2) of the outline of the bar for places (n, 2) of its nodes: the riders of the mesh on their links."""
    start, step = nodes[mesh.link], nodes[mesh.link + 1] - nodes[mesh.link]
    across = np.stack([-step[:, 1], step[:, 0]], axis=1)
    found: FloatArray = start + mesh.along[:, None] * step + mesh.across[:, None] * across
    return found


@part
def _laid(
    nodes: FloatArray, bar: FloatArray, brackets: FloatArray, on: IntArray, striker: FloatArray, end_mass: float,
    link: IntArray, along: FloatArray, across: FloatArray, slowest: float, node: FloatArray,
) -> float:  # fmt: skip
    """Masses and lengths of the nodes; returns the step."""
    bp.prepare(nodes, bar, end_mass, node, slowest)
    lay_inertia(node, bar, 0.25 * slowest**2)
    stiff = (striker[bp.STIFF] + striker[bp.SOLID]) * striker[bp.UNLOAD]
    step: float = stable_step(node, bar, brackets, on, stiff, link, along, across)
    return step


@njit(
    "Tuple((i8, f8))(f8[:,::1], i8[::1], i8[::1], f8[::1], f8[::1], f8[::1], f8[:,::1], f8[::1], f8[::1], f8, f8,"
    " f8, f8, f8[:,:,::1], f8[:,::1], f8[:,::1], f8[:,::1])"
)
def _record(
    nodes: FloatArray, on: IntArray, link: IntArray, along: FloatArray, across: FloatArray, bar: FloatArray,
    brackets: FloatArray, car: FloatArray, striker: FloatArray, end_length: float, duration: float,
    channel_class: float, slowest: float, places: FloatArray, told: FloatArray, energy: FloatArray, loads: FloatArray,
) -> tuple[int, float]:  # fmt: skip
    """One event written down; returns how many samples, and the time between two."""
    k, inert = on.size, 0.25 * slowest**2
    node, rider = np.zeros((nodes.shape[0], bp.NODE)), np.zeros((link.size, bp.RIDER))
    near, moving = np.zeros(link.size + 1, np.int64), np.zeros(bp.MOVING)
    held, home, out = np.zeros((k, bp.BRACKET_STATE)), np.empty((k, 2)), np.zeros(bk.OUT)
    total, pull, seen = np.zeros(3), np.zeros(3), np.zeros(2 + k)
    for j in range(k):
        home[j, 0], home[j, 1] = nodes[on[j], 0], nodes[on[j], 1]
    dt = _laid(nodes, bar, brackets, on, striker, end_length * bar[MASS], link, along, across, slowest, node)
    start = bp.standoff(striker, node, link, along, across)
    if not start < math.inf:
        return 0, dt
    moving[bp.STRIKER_AT] = start
    moving[bp.V_STRIKER], moving[bp.V_CAR] = striker[bp.SPEED], car[bp.CAR_SPEED]
    for i in range(node.shape[0]):
        node[i, bp.VY] = car[bp.CAR_SPEED]
    every, look = max(1, int(round(bk.SAMPLE / dt))), max(1, int(round(bk.LOOK / dt)))
    count, most, last, step, before, pitch = 0, places.shape[0] - 2 * bk.LEAD, 0.0, 0, 0.0, 0.0
    while True:
        time = step * dt
        bk._all_forces(node, bar, brackets, held, on, home, car, moving, pull)
        bp.touch(striker, node, link, along, across, rider, near, moving, step % look == 0, total)
        if striker[bp.HEIGHT] != 0.0:
            pitch = bk._pitch(car, moving, before)
            before = moving[bp.PITCH_AT]
        if total[0] > 0.0:
            last = time
        seen[0] += total[0]
        for j in range(k):
            seen[2 + j] += held[j, bp.FORCE]
        if step % every == 0:
            share = 1.0 if step == 0 else 1.0 / every
            for j in range(2 + k):
                loads[j, bk.LEAD + count] = seen[j] * share
                seen[j] = 0.0
            for i in range(node.shape[0]):
                places[count, i, 0], places[count, i, 1] = node[i, bp.X], node[i, bp.Y]
            told[count, 0], told[count, 1] = moving[bp.STRIKER_AT], moving[bp.CAR_AT]
            told[count, 2], told[count, 3] = moving[bp.YAW_AT], loads[0, bk.LEAD + count]
            bk._stored(node, bar, out)
            bk._brackets_hold(brackets, held, car, moving, out)
            energy[count, KINETIC] = bk._kinetic(node, car, striker, moving, pull, total, pitch, dt)
            energy[count, KINETIC] += inertia_energy(node, bar, inert)
            energy[count, PLASTIC], energy[count, BRACKETS] = out[bk.BAR_LOST], out[bk.BRACKETS_LOST]
            energy[count, ELASTIC] = out[bk.BAR_HELD] + out[bk.BRACKETS_HELD]
            energy[count, CONTACT] = rider[:, bp.WORK].sum()
            count += 1
            if bk.is_over(time, last, car, striker, moving) or time > duration or count >= most:
                break
        if step % look == look - 1:
            bp.rate_factors(node, bar, look * dt)
        bk._advance(node, car, striker, moving, pull, total, pitch, dt)
        step += 1
    for j in range(2 + k):
        cfc(loads[j], count + 2 * bk.LEAD, every * dt, channel_class)
    return count, every * dt
