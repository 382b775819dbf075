"""A pressed bar on yielding brackets, hit at low speed: what the hit does, build by build."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from firstoff.physics.impact import beam_kernel as kernel
from firstoff.physics.impact.beam_inertia import INERTIA_STEP
from firstoff.physics.impact.beam_parts import BRACKET, STRIKER, VEHICLE
from firstoff.physics.impact.mesh import Mesh
from firstoff.physics.impact.moment_curve import BAR, DEPTH
from firstoff.physics.ranges import FloatArray, Numbers, not_negative, positive, within

EVENT: Final = 0.150  # s
CLASS: Final = 60.0  # CFC of the forces
WALL: Final = 1e9  # kg: mass of what does not move
FREE: Final = 1e12  # N: what never yields or slips
Contact = tuple[float, float, float, float, float, float]
BARE: Final = 5e8  # N/m2: contact of bare steel per length, stiff beside the bar (assumed)


class Hit(NamedTuple):
    """What a hit leaves; SI, one row a build, `NaN` only where the status says that there is no value."""

    peak: FloatArray  # (n,) N, along the striker's way, filtered
    raw_peak: FloatArray  # unfiltered: contact rings far above it
    side: FloatArray  # N, across the striker's way, on its guide, filtered
    intrusion: FloatArray  # (n, p) m, most, of the named points towards the car
    permanent_set: FloatArray  # (n, p) m, at rest
    pushed: FloatArray  # (n, k) N, most load of each bracket towards the car, filtered
    pulled: FloatArray  # (n, k) N, most load away from it, as a positive number
    slipped: FloatArray  # (n, k) m, of the joint
    bracket_set: FloatArray  # (n, k) m, with the slip
    strain: FloatArray  # (n,) most bending strain of the outermost fibre, curvature averaged over 80 mm of the bar
    arched: FloatArray  # 1/m, most curvature, so averaged, that stretches the face
    hollow: FloatArray  # 1/m, most that squeezes it
    dent: FloatArray  # (n,) m, depth that stays in face or absorber where it was pressed in furthest
    stroke: FloatArray  # (n,) m, most travel of the striker towards the car
    yaw: FloatArray  # (n,) rad, most
    before: FloatArray  # J: kinetic energy at first touch, and where it went:
    bar: FloatArray  # J, what the bar does not give back: plastic work, with what hardening locks in
    brackets: FloatArray  # J, likewise: yielding and slip
    elastic: FloatArray  # J, still in bar and brackets
    contact: FloatArray  # J, absorber and contact
    kinetic: FloatArray  # J, of everything, afterwards
    residual: FloatArray  # energy not accounted for over that before
    momentum: FloatArray  # change of forward momentum beside that of the guide, over the first
    restitution: FloatArray
    striker_speed: FloatArray  # m/s, afterwards, along its way
    car_speed: FloatArray  # m/s, afterwards, to the rear of the car
    last_contact: FloatArray  # s
    step: FloatArray  # s
    status: npt.NDArray[np.uint8]


def bracket_rows(
    stiffness: Numbers, yield_force: Numbers, hardening: Numbers, lateral: Numbers, slip_load: Numbers = FREE,
    slip_gap: Numbers = 0.0,
) -> FloatArray:  # fmt: skip
    """Rows (..., 6) of brackets: stiffness k [N/m], yield force [N], slope after yield [N/m] < k, lateral stiffness
    [N/m], load at which its joint slips [N], way it slips each way [m]. Unloads at k. ValueError out of range."""
    k, h = positive("stiffness of a bracket", stiffness), not_negative("hardening of a bracket", hardening)
    if not np.all(h < k):
        raise ValueError("the slope of a bracket after yield must be below its stiffness")
    columns = (k, positive("yield force of a bracket", yield_force), h, not_negative("lateral stiffness", lateral),
               positive("slip load", slip_load), not_negative("slip", slip_gap))  # fmt: skip
    rows: FloatArray = np.stack(np.broadcast_arrays(*columns), axis=-1)
    assert rows.shape[-1] == BRACKET
    return rows


def vehicle_row(
    mass: float, yaw_inertia: float, behind: float, speed: float = 0.0, pitch: tuple[float, float, float] | None = None
) -> FloatArray:
    """Row (1, 7) of a car that moves forwards and turns; its tyres hold it sideways.

    mass [kg], yaw_inertia [kg m2], centre of gravity behind the bar [m], speed to its rear [m/s] (negative: it drives
    forwards); pitch of the bar on its brackets: (stiffness [N m/rad], moment at which it yields [N m], inertia
    [kg m2]), stiff when left out. ValueError out of range.
    """
    tilt = pitch if pitch is not None else (1e9, FREE, 1e3)
    row = np.array([[positive("mass", mass), positive("yaw inertia", yaw_inertia), not_negative("behind", behind),
                     within("speed", speed), *(positive("pitch", p) for p in tilt)]], np.float64)  # fmt: skip
    assert row.shape[-1] == VEHICLE
    return row


def striker_row(
    mass: float, speed: float, aim: tuple[float, float], radius: float = 0.0, angle: float = 0.0,
    half_width: float = 1e3, height: float = 0.0, contact: Contact | None = None, pitch: float = 0.02,
) -> FloatArray:  # fmt: skip
    """Row (1, 14) of a striker: rigid, without friction, guided along a straight way.

    mass [kg] (`WALL` for a barrier), speed [m/s] to the rear of the car, aim (x, y) [m] a place on its way; radius [m]
    of its face in plan, 0 for flat; angle [rad] of its way against straight ahead, positive from the left; half_width
    [m] of its face; height [m] above the brackets; contact per length of bar: stiffness, plateau, slope on the plateau
    [N/m2, N/m, N/m2], way after which it is solid [m], stiffness then [N/m2], times as stiff on the way back (>= 1);
    pitch [m] of the mesh's riders.
    """
    k, plateau, slope, solid_at, solid, unload = contact if contact is not None else (BARE, FREE, 0.0, 1e3, 0.0, 1.0)
    if unload < 1.0:
        raise ValueError("an absorber cannot give back more than it took: at least 1 times as stiff on the way back")
    row = np.array([[positive("mass", mass), within("speed", speed, least=0.0),
                     within("angle", angle, above=-1.3, below=1.3), not_negative("radius", radius), *aim,
                     positive("half width", half_width), within("height", height), positive("contact", k) * pitch,
                     positive("plateau", plateau) * pitch, slope * pitch, solid_at, solid * pitch,
                     unload]])  # fmt: skip
    assert row.shape[-1] == STRIKER
    return row


def hit(
    mesh: Mesh, bars: FloatArray, brackets: FloatArray, vehicles: FloatArray, strikers: FloatArray,
    end_length: float = 0.0, duration: float = EVENT, channel_class: float = CLASS, step: float = 0.0,
    slowest: float = INERTIA_STEP,
) -> tuple[Hit, FloatArray]:  # fmt: skip
    """Nonlinear beam in plan, central differences: A a = f_contact - f_bar - f_brackets, step 0.9 times 2/omega.

    A = m + (T/2)^2 K_bending: an inertia that only fast bending feels (1/omega^2 grows by (T/2)^2), so that short links
    do not set the step; T = slowest [s], 0 for plain masses.

    Bar: axial springs of the links and a moment at each node, M(kappa), kappa = (2 tan(theta/2) - rest)/l, by three
    sliders and a spring, caps times 1 - (N/N_p)^2 and Cowper-Symonds. Event 150 ms or till 8 ms after the last contact.
    Forces sampled at about 10 kHz as means, low-pass ISO 6487 CFC 60.

    mesh; bars (n, 13) of `bar_rows`; brackets (n, k, 6); vehicles (n, 7), strikers (n, 14), or one row for all;
    end_length [m] of bar beyond each end node, whose mass rides there. Also returns the unfiltered samples (2 + k, s)
    of the last build: force, side force, brackets. The bar does not twist or dent; plane motion. Source: central
    differences (textbook), inertia by stiffness (selective mass scaling, from memory), discrete rod (2 tan(theta/2)),
    Cowper-Symonds; checked by closed forms. ValueError for shapes that do not fit.
    """
    n, k = len(bars), len(mesh.brackets)
    if bars.shape != (n, BAR) or brackets.shape != (n, k, BRACKET):
        raise ValueError("bars (n, 13) and brackets (n, k, 6) must belong together")
    cars, all_strikers = (np.array(np.broadcast_to(a, (n, a.shape[1])), np.float64, order="C")
                          for a in (vehicles, strikers))  # fmt: skip
    out, points = np.zeros((n, kernel.OUT)), np.zeros((n, len(mesh.point_link), 2))
    loads, status = np.zeros((n, k, 4)), np.zeros(n, np.uint8)
    trace = np.zeros((2 + k, int(duration / kernel.SAMPLE * 1.6) + 2 * kernel.LEAD + 10))
    kernel.run(np.ascontiguousarray(mesh.nodes), mesh.brackets, mesh.link, mesh.along, mesh.across, mesh.point_link,
               mesh.point_along, np.ascontiguousarray(bars), np.ascontiguousarray(brackets), cars, all_strikers,
               end_length, duration, channel_class, step, slowest, out, points, loads, status, trace)  # fmt: skip
    lost = (status & 128) > 0
    out[lost], points[lost], loads[lost] = np.nan, np.nan, np.nan
    at = out.T
    arched, hollow = at[kernel.ARCHED], at[kernel.HOLLOW]
    found = Hit(
        at[kernel.PEAK], at[kernel.RAW], at[kernel.SIDE], points[..., 0], points[..., 1], loads[..., 0],
        np.maximum(-loads[..., 1], 0.0), loads[..., 2], loads[..., 3], np.maximum(arched, hollow) * bars[:, DEPTH],
        arched, hollow, at[kernel.DENT], at[kernel.STROKE], at[kernel.TURN], at[kernel.BEFORE], at[kernel.BAR_LOST],
        at[kernel.BRACKETS_LOST], at[kernel.BAR_HELD] + at[kernel.BRACKETS_HELD], at[kernel.CONTACT],
        at[kernel.KINETIC], at[kernel.RESIDUAL], at[kernel.MOMENTUM], at[kernel.RESTITUTION],
        at[kernel.STRIKER_SPEED], at[kernel.CAR_SPEED_AFTER], at[kernel.TIME], at[kernel.STEP], status,
    )  # fmt: skip
    return found, trace
