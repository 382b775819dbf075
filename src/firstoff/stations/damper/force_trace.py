"""A measured force trace on the damping rig: which run of the sheet it is, and the numbers that it gives.

The numbers are those that the rig in motion computes, by the same reduction.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from firstoff.physics.damper.loop import LOOP_FIELDS, Loop
from firstoff.physics.damper.loop_noise import number_covariance
from firstoff.sheets.units import format_value
from firstoff.stations.damper.damping_rig import force_name
from firstoff.stations.damper.dynamic_rig import READ, DynamicRig, places
from firstoff.stations.trace_station import TraceNumbers, Unfit

FloatArray = npt.NDArray[np.float64]
STROKE, SPEED, CRAWL = 0.03, 0.03, 2.0  # relative, by which a run may differ from the sheet's; a factor at crawling
CYCLES, CRAWL_CYCLES = 4, 2  # whole ones
WANDER = 0.1  # relative, longest less shortest cycle
SINE = 0.65  # rms over amplitude: 0.707 of a sine, 0.577 of a triangle
FITS = 0.03  # relative, to call a factor that of a unit
FORCE_FITS = 0.25
EXCHANGED = 0.35  # mean log ratio of both forces to the nominal below which they fit
LENGTHS = {1e3: "mm taken for m", 1e-3: "m taken for mm", 25.4: "mm taken for in", 1.0 / 25.4: "in taken for mm",
           10.0: "mm taken for cm", 0.1: "cm taken for mm", 2.0: "the stroke is twice the sheet's",
           0.5: "the stroke is half the sheet's"}  # fmt: skip
FORCES = {1e3: "N taken for kN", 1e-3: "kN taken for N", 4.448: "N taken for lbf", 0.2248: "lbf taken for N",
          9.807: "N taken for kgf", 0.102: "kgf taken for N"}  # fmt: skip
TIMES = {1e-3: "ms taken for s", 1e3: "s taken for ms", 1.0 / 60.0: "s taken for min", 60.0: "min taken for s"}


@dataclass(frozen=True)
class Setting:
    """The rig as the sheets set it, SI, and the forces expected at nominal."""

    stroke: float
    speeds: tuple[float, ...]  # of the customer's table, ascending
    loop_speed: float  # at which the loop is read
    crawl: float
    nominal: Mapping[str, float]


def setting(values: Mapping[str, float], speeds: tuple[float, ...], nominal: Mapping[str, float],
            loop_speed: float) -> Setting:  # fmt: skip
    """From the parameters of the stations at nominal and the forces there."""
    return Setting(values["damping_rig.stroke"], speeds, loop_speed, values["dynamic_rig.crawl_speed"], nominal)


def numbers_of(
    time: FloatArray, travel: FloatArray, force: FloatArray, at: Setting, stated: float | None
) -> TraceNumbers:
    """The characteristics that a trace gives.

    time [s] rising, travel [m] positive out from anywhere, force [N] positive in tension; stated: its speed [m/s], if
    somebody wrote it down. Raises Unfit.
    """
    half = 0.5 * at.stroke
    try:
        middle = DynamicRig.reduce(time, travel, force, half).travel
        loop = DynamicRig.reduce(time, travel - 0.5 * float(middle.max() + middle.min()), force, half)
    except ValueError as error:
        raise Unfit(str(error), allowed=f"{CYCLES} whole cycles, {CRAWL_CYCLES} at crawling speed") from None
    _stroke(loop, at)
    kind, speed = _run(loop, at, stated)
    least = CRAWL_CYCLES if kind == "crawl" else CYCLES
    if loop.cycles < least:
        what = "has too few whole cycles"
        raise Unfit(what, found=str(loop.cycles), allowed=f"at least {least}")
    if loop.wander > WANDER:
        raise Unfit("has cycles of different length", found=f"{loop.wander:.0%} apart", allowed=f"up to {WANDER:.0%}")
    if kind != "crawl" and loop.numbers["energy"] <= 0.0:
        what = "gives work instead of taking it: displacement (or force) counts the wrong way"
        allowed = "displacement positive out and force positive in tension, or what is positive under [[gauge]] trace"
        raise Unfit(what, f"{loop.numbers['energy']:.3g} J a cycle", allowed)
    if kind != "crawl":
        _forces(loop, at, speed)
    fields = _fields(kind, speed)
    index = [LOOP_FIELDS.index(field) for field in fields.values()]
    values = np.array([loop.numbers[field] for field in fields.values()])
    covariance = number_covariance(loop, places(half))[np.ix_(index, index)]
    good = np.flatnonzero(np.isfinite(values) & np.isfinite(np.diag(covariance)))
    names = tuple(np.array(list(fields))[good].tolist())
    title = f"crawling at {format_value(speed, 'mm/s', 3)}" if kind == "crawl" else format_value(speed, "m/s", 4)
    return TraceNumbers(
        title, kind == "crawl", speed, names, values[good], covariance[np.ix_(good, good)], loop.cycles, loop.period,
        loop.noise, loop.drift, loop.starts, loop.travel, loop.speed, loop.force,
    )  # fmt: skip


def _fields(kind: str, speed: float) -> dict[str, str]:
    """Characteristic -> field of the loop."""
    if kind == "crawl":
        return {name: field for name, (run, field) in READ.items() if run == 1}
    forces = {force_name(speed): "mid_rebound", force_name(-speed): "mid_compression"}
    of_loop = {name: field for name, (run, field) in READ.items() if run == 0 and field not in forces.values()}
    return forces | (of_loop if kind == "loop" else {})


def _stroke(loop: Loop, at: Setting) -> None:
    stroke = float(np.ptp(loop.travel))
    if abs(stroke / at.stroke - 1.0) <= STROKE:
        return
    guess = _factor(stroke / at.stroke, LENGTHS, FITS)
    raise Unfit("has another stroke than the sheet" + guess, format_value(stroke, "mm", 4),
                format_value(at.stroke, "mm", 4))  # fmt: skip


def _run(loop: Loop, at: Setting, stated: float | None) -> tuple[str, float]:
    """Which run of the sheet this is, and its speed there."""
    amplitude = 0.5 * float(np.ptp(loop.travel))
    sine = float(np.std(loop.travel[:-1])) > SINE * amplitude
    speed = (2.0 * math.pi if sine else 4.0) * amplitude / loop.period
    if stated is not None and abs(speed / stated - 1.0) > (SPEED if speed > CRAWL * at.crawl else CRAWL - 1.0):
        raise Unfit("moves at another speed than it says", format_value(speed, "m/s", 4),
                    format_value(stated, "m/s", 4))  # fmt: skip
    near = min(at.speeds, key=lambda v: abs(v / speed - 1.0), default=0.0)
    if near and abs(near / speed - 1.0) <= SPEED:
        if not sine:
            raise Unfit("is no sine at a speed of the table", allowed="a crank's motion, speed peaking at mid-stroke")
        return ("loop" if near == at.loop_speed else "speed"), near
    if at.crawl / CRAWL <= speed <= at.crawl * CRAWL:
        return "crawl", at.crawl
    known = (*at.speeds, at.crawl)
    guess = next((text for v in known if (text := _factor(speed / v, TIMES, SPEED))), "")
    allowed = ", ".join(format_value(v, "m/s", 4) for v in at.speeds) + f"; {format_value(at.crawl, 'mm/s', 3)}"
    raise Unfit("moves at no speed of the sheet" + guess, format_value(speed, "m/s", 4), allowed)


def _forces(loop: Loop, at: Setting, speed: float) -> None:
    """Units that are off by their factor, and in and out exchanged."""
    expected = [at.nominal.get(force_name(s * speed), math.nan) for s in (1.0, -1.0)]
    read = [loop.numbers["mid_rebound"], loop.numbers["mid_compression"]]
    if not np.isfinite(expected).all() or expected[0] <= 0.0 or expected[1] >= 0.0 or min(read[0], -read[1]) <= 0.0:
        return
    ratios = [r / e for r, e in zip(read, expected, strict=True)]
    guesses = [_factor(r, FORCES, FORCE_FITS) for r in ratios]
    shown = " and ".join(format_value(r, "N", 4) for r in read)
    wanted = " and ".join(format_value(e, "N", 4) for e in expected) + " expected"
    if guesses[0] and guesses[0] == guesses[1]:
        raise Unfit("has forces off by the factor of a unit" + guesses[0], shown, wanted)
    plain = sum(abs(math.log(r)) for r in ratios)
    exchanged = abs(math.log(-read[1] / expected[0])) + abs(math.log(-read[0] / expected[1]))
    if exchanged < EXCHANGED and plain > 3.0 * exchanged + EXCHANGED:
        what = "fits with in and out exchanged: displacement and force both count the wrong way"
        raise Unfit(what, shown, wanted)


def _factor(ratio: float, known: Mapping[float, str], near: float) -> str:
    """`; as if mm were taken for m`, when the ratio is that of a unit."""
    found = next((text for factor, text in known.items() if abs(ratio / factor - 1.0) <= near), "")
    return f"; it looks like {found}" if found else ""
