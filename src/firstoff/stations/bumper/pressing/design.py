"""Bumpers that cannot be: sections that do not close, sheet that tears, presses that are too weak."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np

from firstoff.errors import InputFault
from firstoff.physics.forming.flow_curve import plane_strain_limit
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.pressing.die_line import press_faults
from firstoff.stations.bumper.pressing.draw import FIRST_HIT
from firstoff.stations.bumper.pressing.nominal import at_nominal
from firstoff.stations.contradiction import Contradiction
from firstoff.stations.settle import Settings

At = Mapping[str, float]
MARGIN = 0.10  # engineering strain below the limit that a stable process keeps: common practice, no source
ALONG_GRAIN = 1.5  # times the radius, of bends that lie along the grain: common practice, no source


def contradictions(at: At, settings: Settings) -> list[Contradiction]:
    """Everything that excludes itself among what is stated; forming and presses only once all of that is stated."""
    bumper: Bumper | None = settings.drawing
    if bumper is None:
        return []
    found = [*_coil(at), *_section(bumper, at), *_plan_curve(bumper)]
    if found:
        return found
    try:
        drawn = at_nominal(settings, "draw")
    except InputFault:  # something is not stated yet: planning says what
        return []
    found += _tearing(bumper, at, drawn)
    if found:
        return found
    try:
        found += [Contradiction(_key(die), f"not feasible: {what}", allowed) for die, what, allowed in
                  press_faults(settings)]  # fmt: skip
    except InputFault:
        return []
    return found


def _key(die: str) -> str:
    return {"blank": "blanking.width", "draw": "draw.binder_force", "restrike": "restrike.shut_depth"}.get(die, die)


def _coil(at: At) -> Iterator[Contradiction]:
    proof, tensile = at.get("coil.proof_stress"), at.get("coil.tensile_strength")
    if proof is not None and tensile is not None and tensile < 1.05 * proof:
        yield Contradiction("coil.tensile_strength", f"is less than 5 % above the proof stress, {proof / 1e6:.0f} MPa",
                            f"at least {1.05 * proof / 1e6:.0f} MPa")  # fmt: skip


def _section(bumper: Bumper, at: At) -> Iterator[Contradiction]:
    t = at.get("coil.thickness", 2e-3)
    flats = bumper.flats(t)
    for i, corner in enumerate(bumper.inner):
        if bumper.angles[i] < math.radians(0.5):
            yield Contradiction(f"corner.{corner.name}", "does not turn: it is no corner", "at least 0.5 deg")
        for flat in (i, i + 1):
            if flats[flat] < 0.0:
                yield Contradiction(f"corner.{corner.name}",
                                    f"has a radius that leaves no flat beside it ({1e3 * flats[flat]:.1f} mm)",
                                    "a smaller radius or a longer leg")  # fmt: skip
    for name in {c.name for c in bumper.inner if c.die == "flange"}:
        i = [c.name for c in bumper.inner].index(name)
        if bumper.drawn[0] < i < bumper.drawn[1]:
            yield Contradiction(f"corner.{name}", "is flanged, but lies between corners of the draw die", "die = draw")


def _plan_curve(bumper: Bumper) -> Iterator[Contradiction]:
    half, arcs = 0.5 * bumper.length, sum(a.length for a in bumper.arcs)
    if arcs < half - 1e-3:
        yield Contradiction("bar.length", f"is longer than its plan curve, whose half is {1e3 * arcs:.0f} mm",
                            f"at most {2e3 * arcs:.0f} mm, or another [[arc]]")  # fmt: skip


def _tearing(bumper: Bumper, at: At, drawn: Mapping[str, np.ndarray]) -> Iterator[Contradiction]:
    """Sheet that tears in the draw, at a bend, or at a flanged edge."""
    t, n = at["coil.thickness"], at["coil.exponent"]
    more = "larger radius" if bumper.form_hits == 2 else "larger radius, or one more die (form_hits = 2)"
    limit = math.log1p(float(plane_strain_limit(t, n)) - MARGIN)
    for side in ("upper", "lower"):
        strain = float(drawn[f"wall_strain_{side}"][0])
        if not math.isfinite(strain) or strain > limit:
            shown = f"{strain:.2f}" if math.isfinite(strain) else "without end"
            yield Contradiction(
                "draw.binder_force", f"not feasible: strain at the {side} wall {shown} exceeds {limit:.2f}",
                "larger die radius, less binder force or a better lubricant",
            )  # fmt: skip
    fracture = -math.log1p(-at["coil.area_reduction"])
    first, last = bumper.drawn
    along = ALONG_GRAIN if bumper.length > bumper.coil_widest else 1.0
    for i, corner in enumerate(bumper.inner):
        hit = FIRST_HIT if bumper.form_hits == 2 and first <= i <= last else 1.0
        radius = hit * corner.radius
        bend = math.log1p(t / (2.0 * radius + t)) * along
        if first <= i <= last:
            side = "upper" if i < bumper.datum else "lower"
            strain, most = bend + float(drawn[f"wall_strain_{side}"][0]), limit
            if strain > most:
                yield Contradiction(
                    f"corner.{corner.name}",
                    f"not feasible: strain at {corner.name} {strain:.2f} exceeds {most:.2f} in the draw", more,
                )  # fmt: skip
        final = math.log1p(t / (2.0 * corner.radius + t)) * along
        if final > fracture:
            yield Contradiction(
                f"corner.{corner.name}",
                f"not feasible: strain at {corner.name} {final:.2f} exceeds {fracture:.2f}, where its outside cracks",
                "larger radius",
            )  # fmt: skip
    yield from _edges(bumper, at)


def _edges(bumper: Bumper, at: At) -> Iterator[Contradiction]:
    """Lips along a bowed bar: their edge is stretched or gathered by its height over the plan radius."""
    tightest = min(a.radius for a in bumper.arcs)
    for side, wall in zip(("upper", "lower"), bumper.walls, strict=True):
        strain = math.log1p(wall / tightest)
        if strain > at.get("coil.edge_strain", 0.25):
            yield Contradiction("arc", f"not feasible: strain at the {side} edge {strain:.2f} exceeds "
                                f"{at.get('coil.edge_strain', 0.25):.2f}, what a sheared edge bears",
                                "larger radius in plan, or a notched edge")  # fmt: skip
