"""The line of dies: which die does what, on which press, with what force, how fast."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from firstoff.chain.station import Columns, FloatArray
from firstoff.errors import InputFault
from firstoff.physics.forming.forces import crank_force
from firstoff.physics.forming.profile import bow_weights
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.drawing import Aperture, Bumper, Press
from firstoff.stations.bumper.pressing.common import drawing_of, kilonewtons
from firstoff.stations.bumper.pressing.nominal import at_nominal
from firstoff.stations.settle import Settings

TRIM_ENDS = 0.010  # m that the trim takes off each end: common practice, no source
TIGHT = 0.5e-3  # m, of a hole's place: tighter ones are pierced last: common practice, no source
NEAR = 2.0  # thicknesses from the end of a bend, within which a later hit moves a hole: common practice, no source
IN_BLANK = 0.2  # of the tolerance, that the draw may move or stretch a hole which is cut in the blank
SHARE_OF_PRESS = 0.8  # of the rated force, that a die may take: common practice, no source
RESTRIKE_WAY = 3e-3  # m before the bottom, over which the restrike works
BEND_WORK = 0.63  # mean over peak force of a forming hit: common practice, no source
CUT_WAY = 0.4  # of the thickness, over which a cut takes its force: common practice, no source
STEPS_SHOWN = (-0.8e-3, -0.4e-3, 0.0, 0.4e-3)  # m of shut depth, of which the restrike's sheet tells the cost


@dataclass(frozen=True)
class BlankSize:
    length: float
    width: float


@dataclass(frozen=True)
class Die:
    """One die at nominal settings, SI."""

    role: str  # as the station is called
    number: int  # 1, 2, 3 ...
    force: float
    way: float  # above the bottom, where the force begins
    work: float
    moment: float  # of the load off the centre
    press: Press


def sheet_thickness(settings: Settings) -> float:
    """The drawing's thickness."""
    given = settings.given.get("coil.thickness")
    return given.nominal if given is not None else 2e-3


def wall_stretch(settings: Settings) -> tuple[float, float]:
    """Strain of the upper and the lower wall at nominal: the blank is cut so much narrower."""
    found = at_nominal(settings, "draw")
    return float(found["wall_strain_upper"][0]), float(found["wall_strain_lower"][0])


def blank_size(settings: Settings) -> BlankSize:
    """Development of the drawing, less the stretch of the walls; in length with what the trim takes off."""
    bumper, t = drawing_of(settings), sheet_thickness(settings)
    taken = sum(s * wall for s, wall in zip(wall_stretch(settings), bumper.walls, strict=True))
    return BlankSize(bumper.length + 2.0 * (bumper.wrap_allowance(t) + TRIM_ENDS), bumper.developed(t) - taken)


def stage_of(hole: Aperture, settings: Settings) -> str:
    """The die that pierces a hole: as early as its place allows."""
    bumper, t = drawing_of(settings), sheet_thickness(settings)
    if hole.tolerance < TIGHT or _near_a_bend(hole, bumper, t):
        return "final_pierce"
    found = at_nominal(settings, "draw")
    across, along = (float(found[f"{way}_strain"][0]) for way in ("face", "bow"))
    moves = max(across * (abs(hole.y - _middle(bumper)) + 0.5 * hole.height), 0.5 * along * hole.width)
    return "pierce" if moves > IN_BLANK * hole.tolerance or not _in_face(hole, bumper) else "blanking"


def _middle(bumper: Bumper) -> float:
    return float(bumper.xy[bumper.datum : bumper.datum + 2, 1].mean())


def _in_face(hole: Aperture, bumper: Bumper) -> bool:
    low, high = sorted(bumper.xy[bumper.datum : bumper.datum + 2, 1])
    return bool(low < hole.y < high)


def _near_a_bend(hole: Aperture, bumper: Bumper, t: float) -> bool:
    first, last = bumper.drawn
    for i in range(first, last + 1):
        clear = bumper.inner[i].radius + NEAR * t
        if abs(bumper.inner[i].y - hole.y) < clear * math.tan(0.5 * bumper.angles[i]) + 0.5 * hole.height:
            return True
    return False


def holes_of(settings: Settings, stage: str) -> tuple[Aperture, ...]:
    """The holes that a stage pierces."""
    try:
        return tuple(a for a in drawing_of(settings).apertures if stage_of(a, settings) == stage)
    except InputFault:  # the sheet does not state the coil or the draw yet
        return drawing_of(settings).apertures if stage == "pierce" else ()


def shift_of(hole: Aperture, stage: str, face_strain: FloatArray) -> FloatArray:
    """How far what is formed after the stage carries a hole across the bar: nothing after the draw."""
    return face_strain * hole.y if stage == "blanking" else np.zeros_like(face_strain)


def route_roles(settings: Settings) -> tuple[str, ...]:
    """Names of the dies in process order, `blank` for blanking."""
    bumper = drawing_of(settings)
    roles = ["blank", "draw"]
    roles += ["reform"] if bumper.form_hits == 2 else []
    roles += ["trim"]
    roles += ["pierce"] if holes_of(settings, "pierce") else []
    roles += ["flange"] if any(c.die == "flange" for c in bumper.inner) else []
    roles += ["cam_flange"] if bumper.wrap else []
    roles += ["restrike"]
    roles += ["final_pierce"] if holes_of(settings, "final_pierce") else []
    return tuple(roles)


def dies(settings: Settings) -> tuple[Die, ...]:
    """Every die of the route with what it takes, and the press it stands on."""
    bumper, t = drawing_of(settings), sheet_thickness(settings)
    found = at_nominal(settings, "final_pierce")
    lip = max(bumper.walls[0] - bumper.depth, bumper.walls[1] - bumper.depth, 0.01)
    ways = {"draw": bumper.depth, "reform": RESTRIKE_WAY, "flange": lip, "restrike": RESTRIKE_WAY,
            "cam_flange": bumper.wrap.length if bumper.wrap else 0.0}  # fmt: skip
    line = bumper.line
    made = []
    for i, role in enumerate(route_roles(settings)):
        force = float(found[f"force_{role}"][0])
        cuts = role not in ways
        way = t if cuts else ways[role]
        work = force * (CUT_WAY * t if cuts else BEND_WORK * way)
        press = line.presses[0] if line.transfer else line.presses[min(i, len(line.presses) - 1)]
        made.append(Die(role, i + 1, force, way, work, _off_centre(settings, role, force), press))
    return tuple(made)


def _off_centre(settings: Settings, role: str, force: float) -> float:
    """Moment of a die's load about the middle of the bed: single holes off the middle of the bar."""
    holes = holes_of(settings, role) if role in ("pierce", "final_pierce") else ()
    total = sum(a.count * a.edge for a in holes)
    single = sum(a.edge * a.along for a in holes if a.count == 1)
    return force * single / total if total else 0.0


def press_faults(settings: Settings) -> Iterator[tuple[str, str, str]]:
    """(die, what is too much, what is allowed) of every die that its press cannot drive."""
    line = drawing_of(settings).line
    for die in dies(settings):
        press = die.press
        allowed = SHARE_OF_PRESS * press.force
        if die.force > allowed:
            yield (
                die.role,
                f"takes {kilonewtons(die.force)}",
                f"{SHARE_OF_PRESS:.0%} of {press.name}: {kilonewtons(allowed)}",
            )
        first = float(crank_force(press.force, press.rated_distance, press.stroke, min(die.way, press.stroke)))
        if die.role in ("draw", "flange", "cam_flange") and die.force > first:
            yield (die.role, f"takes {kilonewtons(die.force)} at {format_value(die.way, 'mm', 3)} above the bottom",
                   f"{press.name} gives {kilonewtons(first)} there")  # fmt: skip
        if die.work > press.energy:
            yield die.role, f"takes {die.work / 1e3:.0f} kJ a stroke", f"{press.name}: {press.energy / 1e3:.0f} kJ"
        most = press.eccentric * press.force * press.bed
        if die.moment > most:
            yield die.role, f"loads the slide {die.moment / 1e3:.0f} kN·m off its centre", f"{most / 1e3:.0f} kN·m"
    if line.transfer:
        yield from _transfer_faults(line.presses[0], dies(settings))
    count = len(route_roles(settings))
    if not line.transfer and not line.assumed and count > len(line.presses):
        yield "line", f"has {count} dies for {len(line.presses)} presses", "a press a die, or two passes"


def _transfer_faults(press: Press, line: tuple[Die, ...]) -> Iterator[tuple[str, str, str]]:
    """What all dies together take of one press: they strike at once, side by side along its bed."""
    total, moment = transfer_load(press, line)
    allowed, most = SHARE_OF_PRESS * press.force, press.eccentric * press.force * press.bed
    if total > allowed:
        yield "line", f"takes {kilonewtons(total)} in one stroke", f"{press.name}: {kilonewtons(allowed)}"
    if abs(moment) > most:
        what = f"loads the slide {abs(moment) / 1e3:.0f} kN·m off its centre"
        yield "line", what, f"{most / 1e3:.0f} kN·m, or the dies in another order"


def transfer_load(press: Press, line: tuple[Die, ...]) -> tuple[float, float]:
    """Force of all dies at once [N], and its moment about the middle of the bed [N.m]; dies at equal pitch."""
    pitch = press.bed / len(line)
    places = [(i + 0.5) * pitch - 0.5 * press.bed for i in range(len(line))]
    return sum(d.force for d in line), sum(d.force * x for d, x in zip(line, places, strict=True))


def rate(settings: Settings) -> tuple[float, str]:
    """Parts a second, and what limits them: robots wait for the press, then carry; a transfer moves with it."""
    line = drawing_of(settings).line
    slowest = min(p.per_second for p in line.presses)
    if line.transfer:
        return slowest, "the press"
    stroke = 1.0 / slowest
    return 1.0 / (stroke + line.handling), "the robots" if line.handling > stroke else "the press"


def die_setup(settings: Settings, station: str) -> tuple[tuple[str, str], ...]:
    """Lines of a die's setup sheet: its place in the line, force, work and how fast."""
    role = "blank" if station == "blanking" else station
    for die in dies(settings):
        if die.role != role:
            continue
        press, most = die.press, die.press.eccentric * die.press.force * die.press.bed
        first = float(crank_force(press.force, press.rated_distance, press.stroke, min(die.way, press.stroke)))
        lines = [
            ("die", f"{die.number} of {len(route_roles(settings))}, on {press.name}"),
            ("force of the hit", f"{kilonewtons(die.force)}, {100.0 * die.force / press.force:.0f} % of the press"),
            ("work of the hit", f"{die.work / 1e3:.1f} kJ of {press.energy / 1e3:.0f} kJ"),
            ("press gives at the start of the work", kilonewtons(first)),
            ("load off the centre", f"{die.moment / 1e3:.0f} kN·m of {most / 1e3:.0f} kN·m"),
        ]
        return tuple(lines)
    return (("die", "not needed for this part"),)


def line_summary(settings: Settings) -> tuple[tuple[str, str], ...]:
    """The dies in a row, and the pace."""
    line, roles = drawing_of(settings).line, route_roles(settings)
    each, limit = rate(settings)
    kind = (
        "one transfer press" if line.transfer else f"separate presses, robots {line.handling:g} s from one to the next"
    )
    assumed = "; presses assumed: the plant sheet names none" if line.assumed else ""
    return (
        ("dies", f"{len(roles)}: {', '.join(r.replace('_', ' ') for r in roles)}"),
        ("line", kind + assumed),
        ("pace", f"{60.0 * each:.1f} parts per minute, limited by {limit}"),
        *(("hit, " + d.role.replace("_", " "), kilonewtons(d.force)) for d in dies(settings)),
    )


def compensation(settings: Settings, parameter: str) -> float:
    """The setting that brings what it bends to the drawing at nominal, by the secant rule, SI.

    Nothing to bring back gives the setting as it is.
    """
    now = settings.given[parameter].nominal if parameter in settings.given else 0.0
    small = {"draw.over_crown": 0.02, "draw.end_rise": 5e-4}.get(parameter, math.radians(0.5))
    low, high = now, now + small
    for _ in range(3):
        off = _left_over(settings, parameter, np.array([low, high]))
        slope = off[1] - off[0]
        if abs(slope) < 1e-12:
            return low
        low, high = high, high - off[1] * (high - low) / slope
        if abs(high - low) < 1e-6:
            break
    return high


def _left_over(settings: Settings, parameter: str, tried: FloatArray) -> FloatArray:
    """How much is left open at each of the settings: angle [rad], or the bow's curvature over its own."""
    bumper = drawing_of(settings)
    station = parameter.split(".")[0]
    found = at_nominal(settings, "restrike" if station == "flange" else station, {parameter: tried})
    if station == "draw":  # what counts is where the bar's end lies
        weights = bow_weights(np.array([a.length for a in bumper.arcs]), 0.5 * bumper.length)
        if parameter.endswith("end_rise"):
            return np.asarray(-(found["bow_vertical"] @ weights))
        return np.asarray(-(found["bow_plan"] @ weights) / weights.sum())
    if station == "cam_flange":
        return np.asarray((bumper.wrap.angle if bumper.wrap else 0.0) - found["wrap_angle"])
    if station == "restrike":
        return _wall_open(found, settings, parameter.endswith("upper"))
    return _lips_open(found, settings)


def _lips_open(found: Columns, settings: Settings) -> FloatArray:
    """Mean angle by which the lips stand open on the finished part: bend, wall and curl of wall and lip together."""
    bumper, t = drawing_of(settings), found["sheet_thickness"]
    shape, flats = found["final_shape"][:, :, 0], bumper.flats(sheet_thickness(settings))
    first, last = bumper.drawn
    off = []
    for i, corner in enumerate(bumper.inner):
        if corner.die != "flange":
            continue
        upper = i < first
        bends, legs = (
            (range(i, first + 1), range(i, first + 1)) if upper else (range(last, i + 1), range(last + 1, i + 2))
        )
        curl = shape[:, len(bumper.inner) + (0 if upper else 1)]
        open_by = [bumper.angles[k] * (1.0 - shape[:, k] * (bumper.inner[k].radius + 0.5 * t)) for k in bends]
        off.append(np.sum(open_by, axis=0) + curl * float(sum(flats[k] for k in legs)))
    return np.asarray(np.mean(off, axis=0)) if off else np.zeros_like(t)


def _wall_open(found: Columns, settings: Settings, upper: bool) -> FloatArray:
    """Angle by which the end of a wall stands open: its bend's, and half of what the wall's curl turns it."""
    bumper, t = drawing_of(settings), found["sheet_thickness"]
    first, last = bumper.drawn
    corner, wall, flat = (first, 0, first) if upper else (last, 1, last + 1)
    shape = found["final_shape"][:, :, 0]
    bend = bumper.angles[corner] * (1.0 - shape[:, corner] * (bumper.inner[corner].radius + 0.5 * t))
    length = float(bumper.flats(sheet_thickness(settings))[flat])
    return np.asarray(bend + 0.5 * length * shape[:, len(bumper.inner) + wall])


def restrike_cost(settings: Settings) -> list[tuple[float, float, float]]:
    """(shut depth, force, angle that the end of the upper wall is left open) at some shut depths about the setting."""
    now = settings.given["restrike.shut_depth"].nominal
    depths = np.array([now + step for step in STEPS_SHOWN])
    found = at_nominal(settings, "restrike", {"restrike.shut_depth": depths})
    rows = zip(depths, found["force_restrike"], _wall_open(found, settings, True), strict=True)
    return [(float(d), float(f), float(a)) for d, f, a in rows]
