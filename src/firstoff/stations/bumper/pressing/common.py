"""What the stations of a bumper share: strips as columns, the drawing, limits of this launch's presses."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from firstoff.chain.station import Columns, FloatArray, StatusArray
from firstoff.chain.status import Status
from firstoff.errors import InputFault, Message
from firstoff.physics.forming import strip
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.settle import NEEDED, Settings

LAYERS: Final = 15
PLACES, WEIGHTS = strip.layers(LAYERS)
LOCKOUT = "Press: lock out and block the slide before reaching in; two-hand control, light curtain and guards in place."
DIES = "Die: lifting gear and safety blocks when it is changed; nobody under a hanging load."
EDGES = "Cut edges and slivers: cut-resistant gloves and sleeves, eye protection."
PRESS_CAUTIONS = (LOCKOUT, DIES, EDGES)


def drawing_of(settings: Settings) -> Bumper:
    """The drawing. InputFault when the sheet holds none."""
    if settings.drawing is None:
        raise InputFault([Message(NEEDED, file=settings.file, key="bar", allowed="[bar], [[corner]] and [[arc]]")])
    bumper: Bumper = settings.drawing
    return bumper


def strips_of(columns: Mapping[str, FloatArray], name: str) -> strip.Strips:
    """Strips as a station gave them under a name."""
    return strip.Strips(columns[f"{name}_state"], columns[f"{name}_shape"])


def as_columns(strips: strip.Strips, name: str) -> Columns:
    return {f"{name}_state": strips.state, f"{name}_shape": strips.shape}


def names_of(name: str) -> tuple[str, str]:
    return f"{name}_state", f"{name}_shape"


class Program:
    """Steps of every strip, all at rest to begin with."""

    def __init__(self, builds: int, strips: int, steps: int) -> None:
        self.steps = np.zeros((builds, strips, steps, 3))

    def bend(self, of: int, step: int, curvature: FloatArray | float, tension: FloatArray | float = 0.0) -> None:
        self.steps[:, of, step, 0] = strip.BEND
        self.steps[:, of, step, 1] = curvature
        self.steps[:, of, step, 2] = tension

    def squeeze(self, of: int, step: int, strain: FloatArray) -> None:
        self.steps[:, of, step, 0] = strip.SQUEEZE
        self.steps[:, of, step, 1] = strain

    def release(self, of: int, step: int) -> None:
        self.steps[:, of, step, 0] = strip.RELEASE


def walk(
    strips: strip.Strips, program: Program, thickness: FloatArray, material: FloatArray
) -> tuple[strip.Strips, StatusArray]:
    """Strips of one thickness a build through their steps; builds without a usable number go on as flat sheet."""
    good = np.isfinite(program.steps).all(axis=(1, 2, 3)) & np.isfinite(material).all(axis=1) & (thickness > 0.0)
    steps = np.where(good[:, None, None, None], program.steps, 0.0)
    t = np.repeat(np.where(good, thickness, 1e-3)[:, None], strips.state.shape[1], axis=1)
    rows = np.where(good[:, None], material, np.array([2e11, 5e8, 0.2, 0.01, 1.15, 0.0]))
    found, _, status = strip.walk(strips, steps, t, PLACES, WEIGHTS, rows)
    shape = np.where(good[:, None, None], found.shape, np.nan)
    marked = status | np.where(good, Status.OK, Status.NO_VALUE | Status.OUT_OF_RANGE).astype(np.uint8)
    return strip.Strips(found.state, shape), marked


def kilonewtons(force: float) -> str:
    """`4210 kN (429 t)`."""
    return f"{force / 1e3:.0f} kN ({force / 9806.65:.0f} t)"


def degrees(angle: float) -> str:
    return f"{math.degrees(angle):.2f} deg"


def corner_strips(bumper: Bumper) -> Sequence[int]:
    return range(len(bumper.inner))


def wall_strips(bumper: Bumper) -> tuple[int, int]:
    """Numbers of the strips of the upper and the lower wall."""
    m = len(bumper.inner)
    return m, m + 1


def wrap_strip(bumper: Bumper) -> int | None:
    return len(bumper.inner) + 2 if bumper.wrap else None


def strip_count(bumper: Bumper) -> int:
    return len(bumper.inner) + 2 + (1 if bumper.wrap else 0)


def is_upper(bumper: Bumper, corner: int) -> bool:
    return corner < bumper.datum
