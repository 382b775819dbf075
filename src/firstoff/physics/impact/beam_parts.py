"""Pieces of the impact kernel: forces within the bar, of its brackets, of the contact; the stable step."""

from __future__ import annotations

import math
from typing import Final

from firstoff.physics.impact.mesh import IntArray
from firstoff.physics.impact.moment_curve import AXIAL, CAP, DEPTH, LINEAR, MASS, RATE_D, RATE_Q, SQUASH, STIFFNESS
from firstoff.physics.jit import njit, part
from firstoff.physics.ranges import FloatArray

# columns of a node; L0, LENGTH, AXIAL_FORCE, SPRING, TX, TY, LOST_AXIAL belong to the link that follows it
(X, Y, VX, VY, M, FX, FY, REST, PHI0, BEND, S0, S1, S2, FACTOR, LOST, REFERENCE, MOST, L0, LENGTH, AXIAL_FORCE, SPRING,
 TX, TY, PER_REST, LOST_AXIAL, PER_M, BELOW, BELOW2, PER_X, BELOW_X, BELOW2_X, LEAST) = range(32)  # fmt: skip
NODE: Final = 32
# columns of a bracket's row, and of its state
K, FY_BRACKET, HARDENING, LATERAL, SLIP_LOAD, SLIP_GAP = range(6)
BRACKET: Final = 6
SPRUNG, FORCE, AT, SLIPPED, LOST_BRACKET, LAT_AT, LAT_FORCE = range(7)
BRACKET_STATE: Final = 7
# columns of a vehicle's row
CAR, YAW, BEHIND, CAR_SPEED, PITCH, PITCH_CAP, PITCH_INERTIA = range(7)
VEHICLE: Final = 7
# columns of a striker's row
(MASS_S, SPEED, ANGLE, RADIUS, AIM_X, AIM_Y, HALF_WIDTH, HEIGHT, STIFF, PLATEAU, SECOND, CRUSH, SOLID,
 UNLOAD) = range(14)  # fmt: skip
STRIKER: Final = 14
# columns of a rider's state
DEEP, DEEPEST, PUSH, WORK, ACTIVE = range(5)
RIDER: Final = 5
# scalars that move: travel of the striker, of the vehicle, yaw, pitch, and their speeds; the pitch spring; the
# striker's way
(STRIKER_AT, CAR_AT, YAW_AT, PITCH_AT, V_STRIKER, V_CAR, V_YAW, V_PITCH, PITCH_SPRING, PITCH_LOST, WAY_X,
 WAY_Y) = range(12)  # fmt: skip
MOVING: Final = 12
LEAST_FACTOR: Final = 0.05
NEAR_YIELD: Final = 0.7  # of the first cap, from which on the rate matters
CLOSE: Final = 5e-3  # m before the striker's surface, within which a rider is looked at in every step


@njit("f8(i8, f8[:,::1], f8[::1], f8, f8)", inline=True)
def bend_node(i: int, node: FloatArray, bar: FloatArray, sine: float, cosine: float) -> float:
    """Moment at a node for its turning angle, conjugate to the angle; sine and cosine of that between its links."""
    phi = 2.0 * sine / (1.0 + cosine)  # 2 tan(theta/2)
    bend = (phi - node[i, PHI0]) * node[i, PER_REST]
    more = bend - node[i, BEND]
    node[i, BEND] = bend
    if bend > node[i, MOST]:
        node[i, MOST] = bend
    if bend < node[i, LEAST]:
        node[i, LEAST] = bend
    moment: float = bar[LINEAR] * bend
    factor = node[i, FACTOR]
    for j in range(3):
        stiff = bar[STIFFNESS + j]
        before = node[i, S0 + j]
        now = before + stiff * more
        cap = bar[CAP + j] * factor
        if abs(now) > cap:
            held = cap if now > 0.0 else -cap
            if stiff > 0.0:
                node[i, LOST] += 0.5 * (before + held) * (now - held) / stiff * node[i, REST]
            now = held
        node[i, S0 + j] = now
        moment += now
    return moment * (1.0 + 0.25 * phi * phi)


@part
def inner_forces(node: FloatArray, bar: FloatArray) -> None:
    """Forces of the bar on its nodes: axial springs of the links, moments at the nodes between them."""
    last = node.shape[0] - 1
    tx0, ty0, inverse0, axial0, moment0 = 0.0, 0.0, 0.0, 0.0, 0.0
    qx0, qy0 = 0.0, 0.0
    for i in range(last + 1):
        tx, ty, inverse, axial, moment = 0.0, 0.0, 0.0, 0.0, 0.0
        if i < last:
            dx, dy = node[i + 1, X] - node[i, X], node[i + 1, Y] - node[i, Y]
            length = math.sqrt(dx * dx + dy * dy)
            inverse = 1.0 / length
            tx, ty = dx * inverse, dy * inverse
            before = node[i, AXIAL_FORCE]
            axial = before + node[i, SPRING] * (length - node[i, LENGTH])
            if abs(axial) > bar[SQUASH]:
                held = bar[SQUASH] if axial > 0.0 else -bar[SQUASH]
                node[i, LOST_AXIAL] += 0.5 * (before + held) * (axial - held) / node[i, SPRING]
                axial = held
            node[i, LENGTH], node[i, AXIAL_FORCE] = length, axial
            if i > 0:
                moment = bend_node(i, node, bar, tx0 * ty - ty0 * tx, tx0 * tx + ty0 * ty)
        if i > 0:
            turn = (moment0 - moment) * inverse0
            qx, qy = axial0 * tx0 - turn * ty0, axial0 * ty0 + turn * tx0
            node[i - 1, FX], node[i - 1, FY] = qx - qx0, qy - qy0
            qx0, qy0 = qx, qy
        tx0, ty0, inverse0, axial0, moment0 = tx, ty, inverse, axial, moment
    node[last, FX], node[last, FY] = -qx0, -qy0


@part
def rate_factors(node: FloatArray, bar: FloatArray, elapsed: float) -> None:
    """Share of the moments that is left beside the axial force, raised for the rate since the last call."""
    for i in range(1, node.shape[0] - 1):
        rate = abs(node[i, BEND] - node[i, REFERENCE]) / elapsed * bar[DEPTH]
        node[i, REFERENCE] = node[i, BEND]
        load = 0.5 * (node[i, AXIAL_FORCE] + node[i - 1, AXIAL_FORCE]) / bar[SQUASH]
        factor = max(1.0 - load * load, LEAST_FACTOR)
        bent = abs(node[i, S0]) > NEAR_YIELD * bar[CAP]  # a power costs as much as the node itself
        if bent and bar[RATE_D] > 0.0 and rate > 0.0:
            factor *= 1.0 + (rate / bar[RATE_D]) ** (1.0 / bar[RATE_Q])
        node[i, FACTOR] = 0.5 * (node[i, FACTOR] + factor)


@part
def bracket_force(row: FloatArray, now: FloatArray, at: float) -> float:
    """Force of one bracket, spring and slider side by side behind a joint that slips within its holes."""
    stiff, before, force0 = row[K] - row[HARDENING], now[SPRUNG], now[FORCE]
    cap = row[FY_BRACKET] * (1.0 - row[HARDENING] / row[K])
    more = at - now[AT]
    now[AT] = at
    trial = before + stiff * more
    sprung = min(max(trial, -cap), cap)
    force: float = sprung + row[HARDENING] * (at - now[SLIPPED])
    slip = 0.0
    if abs(force) > row[SLIP_LOAD]:
        over = math.copysign((abs(force) - row[SLIP_LOAD]) / row[K], force)
        slip = min(max(now[SLIPPED] + over, -row[SLIP_GAP]), row[SLIP_GAP]) - now[SLIPPED]
        if slip * force < 0.0:
            slip = 0.0
        trial -= stiff * slip
        sprung = min(max(trial, -cap), cap)
        now[SLIPPED] += slip
        force = sprung + row[HARDENING] * (at - now[SLIPPED])
    if stiff > 0.0:
        now[LOST_BRACKET] += 0.5 * (before + sprung) * (trial - sprung) / stiff
    now[LOST_BRACKET] += 0.5 * (force0 + force) * slip
    now[SPRUNG], now[FORCE] = sprung, force
    return force


@njit("f8(f8[::1], f8[::1], f8)", inline=True)
def push_of(striker: FloatArray, now: FloatArray, deep: float) -> float:
    """Force of one rider pressed in: up to a plateau, then solid; steeper on the way back."""
    if deep > now[DEEPEST]:
        now[DEEPEST] = deep
    most = now[DEEPEST]
    if most <= 0.0:
        return 0.0
    envelope: float = min(striker[STIFF] * most, striker[PLATEAU] + striker[SECOND] * most)
    envelope += striker[SOLID] * max(0.0, most - striker[CRUSH])
    stiff = striker[STIFF] + (striker[SOLID] if most > striker[CRUSH] else 0.0)
    back: float = striker[UNLOAD] * stiff * (most - deep)
    return max(0.0, envelope - back)


@part
def kept(striker: FloatArray, rider: FloatArray) -> float:
    """Depth that stays where a rider was pressed in furthest, once nothing presses."""
    deepest = 0.0
    for c in range(rider.shape[0]):
        deepest = max(deepest, rider[c, DEEPEST])
    envelope: float = min(striker[STIFF] * deepest, striker[PLATEAU] + striker[SECOND] * deepest)
    envelope += striker[SOLID] * max(0.0, deepest - striker[CRUSH])
    stiff = striker[UNLOAD] * (striker[STIFF] + (striker[SOLID] if deepest > striker[CRUSH] else 0.0))
    left: float = max(0.0, deepest - envelope / stiff)
    return left


@njit("UniTuple(f8, 3)(f8[::1], f8, f8, f8, f8, f8)", inline=True)
def depth_of(
    striker: FloatArray, travel: float, x: float, y: float, dx: float, dy: float
) -> tuple[float, float, float]:
    """How deep a place lies within a striker on its way (dx, dy), and the direction in which it is pushed out."""
    cx, cy = x - striker[AIM_X] - travel * dx, y - striker[AIM_Y] - travel * dy
    beside, ahead = cx * dy - cy * dx, cx * dx + cy * dy
    over = max(abs(beside) - striker[HALF_WIDTH], 0.0)  # the face falls off at 45 degrees: no force that jumps
    sx, sy = (math.copysign(dy, beside * dy), -math.copysign(dx, beside * dx)) if over > 0.0 else (0.0, 0.0)
    if striker[RADIUS] <= 0.0:
        return -ahead - over, dx + sx, dy + sy
    cx, cy = cx + striker[RADIUS] * dx, cy + striker[RADIUS] * dy
    far = math.sqrt(cx * cx + cy * cy)
    if ahead + striker[RADIUS] <= 0.0 or far == 0.0:
        return -1.0, dx, dy
    return striker[RADIUS] - far - over, cx / far + sx, cy / far + sy


@part
def standoff(striker: FloatArray, node: FloatArray, link: IntArray, along: FloatArray, across: FloatArray) -> float:
    """Travel at which the striker first touches a rider; infinite where it passes by."""
    dx, dy = math.sin(striker[ANGLE]), math.cos(striker[ANGLE])
    least = math.inf
    for c in range(link.size):
        i = link[c]
        ex, ey = node[i + 1, X] - node[i, X], node[i + 1, Y] - node[i, Y]
        x = node[i, X] + along[c] * ex - across[c] * ey - striker[AIM_X]
        y = node[i, Y] + along[c] * ey + across[c] * ex - striker[AIM_Y]
        beside = abs(x * dy - y * dx)
        radius, over = striker[RADIUS], max(beside - striker[HALF_WIDTH], 0.0)
        if radius > 0.0 and beside >= radius - over:
            continue
        sag = radius - math.sqrt((radius - over) ** 2 - beside * beside) if radius > 0.0 else over
        least = min(least, x * dx + y * dy + sag)
    return least


@part
def touch(
    striker: FloatArray, node: FloatArray, link: IntArray, along: FloatArray, across: FloatArray, rider: FloatArray,
    near: IntArray, moving: FloatArray, look: bool, total: FloatArray,
) -> None:  # fmt: skip
    """Forces of the contact onto the nodes; total: along the striker's way, across it, and to the rear of the car.

    near: the riders close to the striker, found anew when told to look, and in its last place how many they are.
    """
    if look:
        moving[WAY_X], moving[WAY_Y] = math.sin(striker[ANGLE]), math.cos(striker[ANGLE])
    dx, dy = moving[WAY_X], moving[WAY_Y]
    total[0], total[1], total[2] = 0.0, 0.0, 0.0
    raised = striker[HEIGHT] * moving[PITCH_AT]
    many, kept = link.size if look else near[link.size], 0
    for k in range(many):
        c = k if look else near[k]
        i = link[c]
        ex, ey = node[i + 1, X] - node[i, X], node[i + 1, Y] - node[i, Y]
        s, o = along[c], across[c]
        x, y = node[i, X] + s * ex - o * ey, node[i, Y] + s * ey + o * ex + raised
        deep, nx, ny = depth_of(striker, moving[STRIKER_AT], x, y, dx, dy)
        if look:
            fresh = rider[c, ACTIVE] == 0.0
            rider[c, ACTIVE] = 1.0 if deep > -CLOSE else 0.0
            if fresh:
                rider[c, DEEP] = deep
            if rider[c, ACTIVE] == 0.0 and rider[c, PUSH] == 0.0:
                continue
            near[kept] = c
            kept += 1
        push = push_of(striker, rider[c], deep)
        rider[c, WORK] += 0.5 * (rider[c, PUSH] + push) * (deep - rider[c, DEEP])
        rider[c, DEEP], rider[c, PUSH] = deep, push
        if push > 0.0:
            fx, fy = push * nx, push * ny
            node[i, FX] += (1.0 - s) * fx - o * fy
            node[i, FY] += (1.0 - s) * fy + o * fx
            node[i + 1, FX] += s * fx + o * fy
            node[i + 1, FY] += s * fy - o * fx
            total[0] += fx * dx + fy * dy
            total[1] += fx * dy - fy * dx
            total[2] += fy
    if look:
        near[link.size] = kept


@part
def prepare(
    nodes: FloatArray, bar: FloatArray, end_mass: float, node: FloatArray, slowest: float,
) -> None:  # fmt: skip
    """Lay out the nodes at rest; slowest [s]: step that axial waves must allow."""
    n = nodes.shape[0]
    for i in range(n):
        node[i, X], node[i, Y] = nodes[i, 0], nodes[i, 1]
        node[i, FACTOR] = 1.0
    for i in range(n - 1):
        ex, ey = nodes[i + 1, 0] - nodes[i, 0], nodes[i + 1, 1] - nodes[i, 1]
        length = math.sqrt(ex * ex + ey * ey)
        node[i, L0], node[i, LENGTH], node[i, TX], node[i, TY] = length, length, ex / length, ey / length
        node[i, M] += 0.5 * length * bar[MASS]
        node[i + 1, M] += 0.5 * length * bar[MASS]
    node[0, M] += end_mass
    node[n - 1, M] += end_mass
    for i in range(1, n - 1):
        sine = node[i - 1, TX] * node[i, TY] - node[i - 1, TY] * node[i, TX]
        cosine = node[i - 1, TX] * node[i, TX] + node[i - 1, TY] * node[i, TY]
        node[i, PHI0], node[i, REST] = 2.0 * sine / (1.0 + cosine), 0.5 * (node[i - 1, L0] + node[i, L0])
        node[i, PER_REST] = 1.0 / node[i, REST]
    for i in range(n - 1):  # an axial wave must not set the step: the bar is softer along itself, never below 2 %
        light = min(node[i, M], node[i + 1, M])
        whole = bar[AXIAL] / node[i, L0]
        node[i, SPRING] = min(whole, max(light / max(slowest, 1e-6) ** 2, 0.02 * whole))
