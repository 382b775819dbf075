"""The impact kernel: central differences over one event, build after build."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.physics import status as st
from firstoff.physics.impact import beam_parts as bp
from firstoff.physics.impact.beam_inertia import (
    accelerate,
    inertia_energy,
    lay_inertia,
    lay_stiffness,
    pitch_step,
    solve,
    stable_step,
)
from firstoff.physics.impact.low_pass import cfc
from firstoff.physics.impact.mesh import IntArray
from firstoff.physics.impact.moment_curve import LINEAR, MASS, STIFFNESS
from firstoff.physics.jit import njit, part
from firstoff.physics.ranges import FloatArray

SAMPLE: Final = 1e-4  # s, about, between two samples of a force
LEAD: Final = 100  # samples at rest before the hit
AFTER: Final = 8e-3  # s that the event goes on after the last contact
APART: Final = 0.1  # of the speed of closing at the start: what still closes faster will touch again
PATIENCE: Final = 0.1  # s that this is waited for: a bar on soft brackets runs ahead of the striker meanwhile
OVER: Final = 0.08  # m of bar over which a curvature is averaged: about the depth of a section (assumed)
LOOK: Final = 5e-4  # s, about, between two looks at rates, axial force, and who is near the striker
SETTLE: Final = 100  # most steps in which the bar comes to rest after the event
AT_REST: Final = 2e-6  # m of the last of them
FURTHEST: Final = 5e-3  # m of any
WORST_RESIDUAL: Final = 1e-3  # a build whose energy does not close better has no value
FINER: Final = (1.0, 0.4, 0.1)  # of the stable step, tried in this order until it does
# columns of the results of a build
(PEAK, RAW, SIDE, STROKE, BAR_LOST, BAR_HELD, BRACKETS_LOST, BRACKETS_HELD, CONTACT, KINETIC, BEFORE, RESIDUAL,
 MOMENTUM, RESTITUTION, STRIKER_SPEED, CAR_SPEED_AFTER, ARCHED, HOLLOW, TIME, STEP, TURN,
 PITCHED, DENT) = range(23)  # fmt: skip
OUT: Final = 23


@part
def _all_forces(
    node: FloatArray, bar: FloatArray, brackets: FloatArray, held: FloatArray, on: IntArray, home: FloatArray,
    car: FloatArray, moving: FloatArray, pull: FloatArray,
) -> None:  # fmt: skip
    """Forces of bar and brackets; pull: what the brackets do to the car, to the rear and in yaw."""
    bp.inner_forces(node, bar)
    pull[0], pull[1] = 0.0, 0.0
    for j in range(on.size):
        i = on[j]
        x, y = home[j, 0], home[j, 1]
        force = bp.bracket_force(brackets[j], held[j], node[i, bp.Y] - y - moving[bp.CAR_AT] - moving[bp.YAW_AT] * x)
        side = node[i, bp.X] - x - moving[bp.YAW_AT] * car[bp.BEHIND]
        lateral = brackets[j, bp.LATERAL] * side
        held[j, bp.LAT_AT], held[j, bp.LAT_FORCE] = side, lateral
        node[i, bp.FX] -= lateral
        node[i, bp.FY] -= force
        pull[0] += force
        pull[1] += force * x + lateral * car[bp.BEHIND]


@part
def _pitch(car: FloatArray, moving: FloatArray, before: float) -> float:
    """Moment of the pitch spring, elastic and then yielding; `before` is the angle a step ago."""
    old = moving[bp.PITCH_SPRING]
    trial = old + car[bp.PITCH] * (moving[bp.PITCH_AT] - before)
    now: float = min(max(trial, -car[bp.PITCH_CAP]), car[bp.PITCH_CAP])
    if now != trial:
        moving[bp.PITCH_LOST] += 0.5 * (old + now) * (trial - now) / car[bp.PITCH]
    moving[bp.PITCH_SPRING] = now
    return now


@part
def _advance(
    node: FloatArray, car: FloatArray, striker: FloatArray, moving: FloatArray, pull: FloatArray, total: FloatArray,
    pitch: float, dt: float,
) -> None:  # fmt: skip
    accelerate(node)
    for i in range(node.shape[0]):
        node[i, bp.VX] += dt * node[i, bp.FX]
        node[i, bp.VY] += dt * node[i, bp.FY]
        node[i, bp.X] += dt * node[i, bp.VX]
        node[i, bp.Y] += dt * node[i, bp.VY]
    moving[bp.V_STRIKER] -= dt * total[0] / striker[bp.MASS_S]
    moving[bp.V_CAR] += dt * pull[0] / car[bp.CAR]
    moving[bp.V_YAW] += dt * pull[1] / car[bp.YAW]
    moving[bp.V_PITCH] += dt * (total[2] * striker[bp.HEIGHT] - pitch) / car[bp.PITCH_INERTIA]
    for q in range(4):
        moving[q] += dt * moving[4 + q]


@part
def _kinetic(
    node: FloatArray, car: FloatArray, striker: FloatArray, moving: FloatArray, pull: FloatArray, total: FloatArray,
    pitch: float, dt: float,
) -> float:  # fmt: skip
    """Kinetic energy at a full step: the products of the speeds half a step before and after it."""
    found: float = 0.0
    for i in range(node.shape[0]):
        m, vx, vy = node[i, bp.M], node[i, bp.VX], node[i, bp.VY]
        found += 0.5 * (m * vx * vx + vx * dt * node[i, bp.FX] + m * vy * vy + vy * dt * node[i, bp.FY])
    v = moving[bp.V_STRIKER]
    found += 0.5 * v * (striker[bp.MASS_S] * v - dt * total[0])
    v = moving[bp.V_CAR]
    found += 0.5 * v * (car[bp.CAR] * v + dt * pull[0])
    v = moving[bp.V_YAW]
    found += 0.5 * v * (car[bp.YAW] * v + dt * pull[1])
    v = moving[bp.V_PITCH]
    found += 0.5 * v * (car[bp.PITCH_INERTIA] * v + dt * (total[2] * striker[bp.HEIGHT] - pitch))
    return found


@part
def _averaged(node: FloatArray, at: int, column: int) -> float:
    """Mean of a node's column over `OVER` about the node, each node standing for its share of the bar."""
    total, length, reach = 0.0, 0.0, 0.0
    for way in (-1, 1):
        i, reach = at, 0.0
        while 0 < i < node.shape[0] - 1 and reach < 0.5 * OVER:
            own = 0.5 * node[i, bp.REST] if i == at else node[i, bp.REST]
            own = min(own, 0.5 * OVER - reach)
            total, length, reach = total + own * node[i, column], length + own, reach + own
            i += way
    mean: float = total / length
    return mean


@part
def _stored(node: FloatArray, bar: FloatArray, out: FloatArray) -> None:
    """What the bar still gives back when its moments are let go, M^2/(2 E I), and what it keeps for good."""
    lost, held = 0.0, 0.0
    rigid = bar[LINEAR] + bar[STIFFNESS] + bar[STIFFNESS + 1] + bar[STIFFNESS + 2]
    for i in range(node.shape[0] - 1):
        lost += node[i, bp.LOST] + node[i, bp.LOST_AXIAL]
        held += node[i, bp.AXIAL_FORCE] ** 2 / (2.0 * node[i, bp.SPRING])
        if i > 0:
            part_held = 0.5 * bar[LINEAR] * node[i, bp.BEND] ** 2
            moment = bar[LINEAR] * node[i, bp.BEND]
            for j in range(3):
                moment += node[i, bp.S0 + j]
                if bar[STIFFNESS + j] > 0.0:
                    part_held += node[i, bp.S0 + j] ** 2 / (2.0 * bar[STIFFNESS + j])
            free = moment * moment / (2.0 * rigid)
            held += free * node[i, bp.REST]
            lost += (part_held - free) * node[i, bp.REST]
            out[ARCHED] = max(out[ARCHED], _averaged(node, i, bp.MOST))
            out[HOLLOW] = max(out[HOLLOW], -_averaged(node, i, bp.LEAST))
    out[BAR_LOST], out[BAR_HELD] = lost, held


@part
def _brackets_hold(
    brackets: FloatArray, held: FloatArray, car: FloatArray, moving: FloatArray, out: FloatArray
) -> None:
    lost = moving[bp.PITCH_LOST]  # with what hardening locks in: only F^2/(2 k) comes back
    kept = moving[bp.PITCH_SPRING] ** 2 / (2.0 * car[bp.PITCH])
    for j in range(brackets.shape[0]):
        stiff = brackets[j, bp.K] - brackets[j, bp.HARDENING]
        lost += held[j, bp.LOST_BRACKET]
        kept += 0.5 * held[j, bp.LAT_FORCE] * held[j, bp.LAT_AT]
        locked = 0.5 * brackets[j, bp.HARDENING] * (held[j, bp.AT] - held[j, bp.SLIPPED]) ** 2
        if stiff > 0.0:
            locked += held[j, bp.SPRUNG] ** 2 / (2.0 * stiff)
        free = held[j, bp.FORCE] ** 2 / (2.0 * brackets[j, bp.K])
        kept += free
        lost += locked - free
    out[BRACKETS_LOST], out[BRACKETS_HELD] = lost, kept


@part
def _intrusions(
    node: FloatArray, nodes: FloatArray, link: IntArray, along: FloatArray, moving: FloatArray, points: FloatArray,
    column: int,
) -> None:  # fmt: skip
    """How far the named points stand nearer to the car than at rest; column 0 keeps the most, column 1 the last."""
    for p in range(link.size):
        i, s = link[p], along[p]
        y = (1.0 - s) * (node[i, bp.Y] - nodes[i, 1]) + s * (node[i + 1, bp.Y] - nodes[i + 1, 1])
        x = (1.0 - s) * nodes[i, 0] + s * nodes[i + 1, 0]
        moved = y - moving[bp.CAR_AT] - moving[bp.YAW_AT] * x
        points[p, column] = max(points[p, column], moved) if column == 0 else moved


@part
def _settle(
    node: FloatArray, bar: FloatArray, brackets: FloatArray, held: FloatArray, on: IntArray, home: FloatArray,
    car: FloatArray, moving: FloatArray, pull: FloatArray,
) -> None:  # fmt: skip
    """Let the bar come to rest on a car that stands still, by the elastic stiffness: it unloads and does not swing."""
    lay_stiffness(node, bar, brackets, on)
    for _ in range(SETTLE):
        _all_forces(node, bar, brackets, held, on, home, car, moving, pull)
        solve(node, bp.FX, bp.PER_X, bp.BELOW_X, bp.BELOW2_X)
        solve(node, bp.FY, bp.PER_M, bp.BELOW, bp.BELOW2)
        most = 0.0
        for i in range(node.shape[0]):
            most = max(most, abs(node[i, bp.FX]), abs(node[i, bp.FY]))
        by = min(1.0, FURTHEST / max(most, 1e-12))
        for i in range(node.shape[0]):
            node[i, bp.X] += by * node[i, bp.FX]
            node[i, bp.Y] += by * node[i, bp.FY]
        if most < AT_REST:
            return


@part
def _event(
    nodes: FloatArray, on: IntArray, link: IntArray, along: FloatArray, across: FloatArray, point_link: IntArray,
    point_along: FloatArray, bar: FloatArray, brackets: FloatArray, car: FloatArray, striker: FloatArray,
    duration: float, dt: float, samples: FloatArray, node: FloatArray, rider: FloatArray, near: IntArray,
    held: FloatArray, home: FloatArray, moving: FloatArray, scratch: FloatArray, points: FloatArray, out: FloatArray,
) -> int:  # fmt: skip
    """One event; returns the number of samples, LEAD of them before it, or 0 where the striker passed by."""
    total, pull, seen = scratch[0], scratch[1], scratch[2]
    start = bp.standoff(striker, node, link, along, across)
    if not start < math.inf:
        return 0
    moving[bp.STRIKER_AT] = start
    moving[bp.V_STRIKER], moving[bp.V_CAR] = striker[bp.SPEED], car[bp.CAR_SPEED]
    mass = 0.0
    for i in range(node.shape[0]):
        node[i, bp.VY] = car[bp.CAR_SPEED]
        mass += node[i, bp.M]
    dy, dx = math.cos(striker[bp.ANGLE]), math.sin(striker[bp.ANGLE])
    out[BEFORE] = 0.5 * (striker[bp.MASS_S] * striker[bp.SPEED] ** 2 + (car[bp.CAR] + mass) * car[bp.CAR_SPEED] ** 2)
    every, look = max(1, int(round(SAMPLE / dt))), max(1, int(round(LOOK / dt)))
    count, most = LEAD, samples.shape[1] - LEAD
    last, guided, pitched_before, pitch = 0.0, 0.0, 0.0, 0.0
    step = 0
    while True:
        time = step * dt
        _all_forces(node, bar, brackets, held, on, home, car, moving, pull)
        bp.touch(striker, node, link, along, across, rider, near, moving, step % look == 0, total)
        if striker[bp.HEIGHT] != 0.0:
            pitch = _pitch(car, moving, pitched_before)
            pitched_before = moving[bp.PITCH_AT]
        if total[0] > 0.0:
            last = time
        out[RAW] = max(out[RAW], total[0])
        seen[0] += total[0]
        seen[1] += total[1]
        for j in range(on.size):
            seen[2 + j] += held[j, bp.FORCE]
        if step % every == every - 1:
            for j in range(2 + on.size):
                samples[j, count] = seen[j] / every
                seen[j] = 0.0
            count += 1
            _intrusions(node, nodes, point_link, point_along, moving, points, 0)
            out[STROKE] = max(out[STROKE], moving[bp.STRIKER_AT] - start - moving[bp.CAR_AT] * dy)
            out[TURN] = max(out[TURN], abs(moving[bp.YAW_AT]))
            out[PITCHED] = max(out[PITCHED], abs(moving[bp.PITCH_AT]))
            if is_over(time, last, car, striker, moving) or time > duration or count >= most:
                break
        if step % look == look - 1:
            bp.rate_factors(node, bar, look * dt)
        guided -= total[1] * dx * dt
        _advance(node, car, striker, moving, pull, total, pitch, dt)
        step += 1
    out[TIME], out[CONTACT], out[DENT] = last, rider[:, bp.WORK].sum(), bp.kept(striker, rider)
    out[KINETIC] = _kinetic(node, car, striker, moving, pull, total, pitch, dt)
    _afterwards(node, car, striker, moving, mass, guided, out)
    return count


@part
def is_over(time: float, last: float, car: FloatArray, striker: FloatArray, moving: FloatArray) -> bool:
    """Whether nothing has touched for long enough; longer where striker and car still close on one another."""
    dy = math.cos(striker[bp.ANGLE])
    began = striker[bp.SPEED] * dy - car[bp.CAR_SPEED]
    closes = moving[bp.V_STRIKER] * dy - moving[bp.V_CAR] > APART * began
    return time - last > (PATIENCE if closes else AFTER)


@part
def _afterwards(
    node: FloatArray, car: FloatArray, striker: FloatArray, moving: FloatArray, mass: float, guided: float,
    out: FloatArray,
) -> None:  # fmt: skip
    """Speeds, restitution, and the forward momentum that neither the first nor the guide accounts for."""
    dy = math.cos(striker[bp.ANGLE])
    after = striker[bp.MASS_S] * moving[bp.V_STRIKER] * dy + car[bp.CAR] * moving[bp.V_CAR]
    for i in range(node.shape[0]):
        after += node[i, bp.M] * node[i, bp.VY]
    first = striker[bp.MASS_S] * striker[bp.SPEED] * dy + (car[bp.CAR] + mass) * car[bp.CAR_SPEED]
    scale = max(abs(striker[bp.MASS_S] * striker[bp.SPEED]), abs(car[bp.CAR] * car[bp.CAR_SPEED]))
    out[MOMENTUM] = (after - first - guided) / scale
    out[STRIKER_SPEED], out[CAR_SPEED_AFTER] = moving[bp.V_STRIKER], moving[bp.V_CAR]
    closing = striker[bp.SPEED] - car[bp.CAR_SPEED] * dy
    out[RESTITUTION] = (moving[bp.V_CAR] * dy - moving[bp.V_STRIKER]) / closing


@part
def _step(
    node: FloatArray, bar: FloatArray, brackets: FloatArray, on: IntArray, car: FloatArray, striker: FloatArray,
    link: IntArray, along: FloatArray, across: FloatArray,
) -> float:  # fmt: skip
    """The stable step of a bar laid out at rest."""
    stiff = (striker[bp.STIFF] + striker[bp.SOLID]) * striker[bp.UNLOAD]
    dt: float = stable_step(node, bar, brackets, on, stiff, link, along, across)
    return min(dt, pitch_step(car, striker, stiff * link.size)) if striker[bp.HEIGHT] != 0.0 else dt


@part
def _balance(
    node: FloatArray, bar: FloatArray, brackets: FloatArray, held: FloatArray, car: FloatArray, moving: FloatArray,
    share: float, out: FloatArray,
) -> None:  # fmt: skip
    """Where the energy went, and what of it is missing."""
    out[KINETIC] += inertia_energy(node, bar, share)
    _stored(node, bar, out)
    _brackets_hold(brackets, held, car, moving, out)
    used = out[BAR_LOST] + out[BAR_HELD] + out[BRACKETS_LOST] + out[BRACKETS_HELD] + out[CONTACT] + out[KINETIC]
    out[RESIDUAL] = (out[BEFORE] - used) / out[BEFORE]


@part
def _filtered(
    samples: FloatArray, count: int, interval: float, channel_class: float, loads: FloatArray, out: FloatArray
) -> None:
    for j in range(samples.shape[0]):
        cfc(samples[j], count + LEAD, interval, channel_class)
    for i in range(count + LEAD):
        out[PEAK] = max(out[PEAK], samples[0, i])
        out[SIDE] = max(out[SIDE], abs(samples[1, i]))
        for j in range(loads.shape[0]):
            loads[j, 0] = max(loads[j, 0], samples[2 + j, i])
            loads[j, 1] = min(loads[j, 1], samples[2 + j, i])


@njit(
    "void(f8[:,::1], i8[::1], i8[::1], f8[::1], f8[::1], i8[::1], f8[::1], f8[:,::1], f8[:,:,::1], f8[:,::1],"
    " f8[:,::1], f8, f8, f8, f8, f8, f8[:,::1], f8[:,:,::1], f8[:,:,::1], u1[::1], f8[:,::1])"
)
def run(
    nodes: FloatArray, on: IntArray, link: IntArray, along: FloatArray, across: FloatArray, point_link: IntArray,
    point_along: FloatArray, bars: FloatArray, brackets: FloatArray, cars: FloatArray, strikers: FloatArray,
    end_length: float, duration: float, channel_class: float, step: float, slowest: float, out: FloatArray,
    points: FloatArray, loads: FloatArray, status: npt.NDArray[np.uint8], trace: FloatArray,
) -> None:  # fmt: skip
    """Every build of a chunk; `step` > 0 sets the time step, `slowest` is about that of bending alone, `trace`
    takes the unfiltered samples of the last build. A build whose energy does not close is run again in finer steps."""
    k, share = on.size, 0.25 * slowest**2
    node, rider = np.empty((nodes.shape[0], bp.NODE)), np.empty((link.size, bp.RIDER))
    near = np.zeros(link.size + 1, np.int64)
    held, home, moving = np.empty((k, bp.BRACKET_STATE)), np.empty((k, 2)), np.empty(bp.MOVING)
    scratch, samples = np.empty((3, max(3, k + 2))), np.empty((2 + k, trace.shape[1]))
    for j in range(k):
        home[j, 0], home[j, 1] = nodes[on[j], 0], nodes[on[j], 1]
    for b in range(bars.shape[0]):
        bar, row, car, striker, found = bars[b], brackets[b], cars[b], strikers[b], out[b]
        count, dt = 0, 0.0
        for finer in FINER:
            node[:], rider[:], held[:], moving[:], scratch[:], samples[:] = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
            found[:], points[b] = 0.0, 0.0
            bp.prepare(nodes, bar, end_length * bar[MASS], node, slowest)
            lay_inertia(node, bar, share)
            dt = finer * (step if step > 0.0 else _step(node, bar, row, on, car, striker, link, along, across))
            found[STEP] = dt
            count = _event(nodes, on, link, along, across, point_link, point_along, bar, row, car, striker, duration,
                           dt, samples, node, rider, near, held, home, moving, scratch, points[b], found)  # fmt: skip
            if count > 0:
                _balance(node, bar, row, held, car, moving, share, found)
            if count == 0 or abs(found[RESIDUAL]) < WORST_RESIDUAL:
                break
        if count == 0:
            status[b] = st.NO_VALUE
            continue
        if not abs(found[RESIDUAL]) < WORST_RESIDUAL:
            status[b] = st.NOT_CONVERGED | st.NO_VALUE
            continue
        if found[TIME] >= duration - AFTER:
            status[b] |= st.OUT_OF_RANGE  # still in contact when the event was cut off
        if b == bars.shape[0] - 1:
            trace[:, :] = samples
        _filtered(samples, count, dt * max(1, int(round(SAMPLE / dt))), channel_class, loads[b], found)
        _settle(node, bar, row, held, on, home, car, moving, scratch[1])
        _intrusions(node, nodes, point_link, point_along, moving, points[b], 1)
        for j in range(k):
            loads[b, j, 2] = held[j, bp.SLIPPED]
            loads[b, j, 3] = held[j, bp.AT] - held[j, bp.FORCE] / row[j, bp.K]
