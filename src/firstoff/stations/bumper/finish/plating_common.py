"""What the plating stations share: the drawing, the field, shares of the surface, cautions."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.chain.station import Columns, Plan, StatusArray
from firstoff.errors import InputFault, Message
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.finish.plating_drawing import PlatingDrawing
from firstoff.stations.bumper.finish.tank_field import FARTHEST, Field, field_of, kept
from firstoff.stations.bumper.pressing.common import drawing_of
from firstoff.stations.bumper.pressing.die_line import sheet_thickness
from firstoff.stations.settle import NEEDED, Settings

FloatArray = npt.NDArray[np.float64]
ASSUMED: Final = "assumed: common practice, no source"
LEAST: Final = 0.02  # share of the significant surface that the least value leaves out: no peak of a mesh
TENTH: Final = 0.10
SLICE: Final = 512  # builds at once
SOFT: Final = 0.15  # relative, half the width over which a place goes from bare to covered, or from bright to burnt
HOOKS = "Racks and hooks: sharp tips, heavy loads; rectifier off and locked before a contact is dressed."
NICKEL_CAUTIONS: Final = (
    "Nickel salts: carcinogens and sensitisers; no skin contact, no eating, extraction on, mist and dust not inhaled.",
    "Acid into water, never water into acid; goggles, apron, eyewash within reach. Hot bath: splash burns.",
    "Tank: nobody enters or leans in without permit, lock-out, air test and a person who watches.",
    HOOKS,
    "The supplier's safety data and local code decide; chemistry and additions are the supplier's.",
)
CHROME_CAUTIONS: Final = (
    "Hexavalent chromium: carcinogen, burns, sensitiser; mist extraction and suppressant proven before the current is "
    "on, no skin contact, waste reduced and treated under permit. A trivalent bath is the alternative: see the plan.",
    *NICKEL_CAUTIONS[1:],
)
TRIVALENT_CAUTIONS: Final = (
    "Trivalent chromium bath: irritant and sensitiser; extraction on; anodes as the supplier says, since a wrong one "
    "makes chromium(VI).",
    *NICKEL_CAUTIONS[1:],
)


def plating_of(settings: Settings) -> tuple[Bumper, PlatingDrawing]:
    """The drawing with its plating. InputFault where the sheets state none."""
    bumper = drawing_of(settings)
    if bumper.plating is None:
        raise InputFault([Message(NEEDED, file=settings.file, key="plating_point", allowed="[[plating_point]]")])
    return bumper, bumper.plating


def settled_field(settings: Settings) -> Field | None:
    """The field of the tank; None where a map of a similar bar stands in its place. InputFault where it has none."""
    bumper, drawn = plating_of(settings)
    if drawn.tank is None:
        return None
    try:
        return field_of(bumper, sheet_thickness(settings))
    except ValueError as error:
        raise InputFault(
            [Message(f"the tank's field cannot be computed: {error}", settings.file, key="tank")]
        ) from error


def tank_name(field: Field | None) -> str:
    """How a plan's data name the field: by its digest, so that plans stay small on paper; empty without a tank."""
    return field.name if field is not None else ""


def field_in(plan: Plan) -> Field | None:
    """The field that a plan names; None where a map of a similar bar stands in its place."""
    name: str = plan.data["tank"]
    return kept(name) if name else None


def significant(field: Field, drawn: PlatingDrawing) -> npt.NDArray[np.bool_]:
    """Cells of the significant surface: the outer side down to its depth behind the face."""
    return field.behind <= drawn.significant


def lowest(values: FloatArray, areas: FloatArray, *shares: float) -> list[FloatArray]:
    """Values (n,) that all but each share of the surface reaches; values (n, cells), areas (cells,).

    The area-weighted quantile, linear between the middles of the sorted cells. Source: definition.
    """
    order = np.argsort(values, axis=1)
    ranked, weight = np.take_along_axis(values, order, axis=1), areas[order]
    upto = (np.cumsum(weight, axis=1) - 0.5 * weight) / weight.sum(axis=1, keepdims=True)
    rows, found = np.arange(len(values)), []
    for share in shares:
        right = np.clip((upto < share).sum(axis=1), 1, values.shape[1] - 1)
        low, high = upto[rows, right - 1], upto[rows, right]
        part = np.clip((share - low) / np.maximum(high - low, 1e-12), 0.0, 1.0)
        found.append(np.asarray(ranked[rows, right - 1] * (1.0 - part) + ranked[rows, right] * part))
    return found


def mean(values: FloatArray, areas: FloatArray) -> FloatArray:
    """Mean over the surface (n,)."""
    return np.asarray(values @ areas / areas.sum())


def above(values: FloatArray, limit: FloatArray) -> FloatArray:
    """How far a place is above its limit (n, 1), 0 to 1: linear within `SOFT` of it, since no place is quite even."""
    return np.asarray(np.clip((values / limit - 1.0 + SOFT) / (2.0 * SOFT), 0.0, 1.0))


def rack_density(
    field: Field, bath: str, columns: Mapping[str, FloatArray], density: FloatArray, conductance: FloatArray
) -> tuple[FloatArray, FloatArray, npt.NDArray[np.bool_]]:
    """Current density of every row (n, rows) [A/m2], voltage (n,) [V at 1 S/m], and where the model does not hold.

    density: current over the rack's area; conductance: conductivity times the scale of the polarisation.
    """
    n = len(density)
    found, voltage, out = np.zeros((n, field.rows)), np.zeros(n), np.zeros(n, dtype=bool)
    fair = (density > 0.0) & (conductance > 0.0)
    current, kappa = np.where(fair, density * field.area, 1.0), np.where(fair, conductance, 1.0)
    for bar, share in _bars(field, columns["bar_number"]):
        mine = np.flatnonzero(share)
        builds = field.of_bar(bath, bar).run(current[mine], kappa[mine])
        found[mine] += share[mine, None] * builds.density
        voltage[mine] += share[mine] * builds.voltage * kappa[mine]
        out[mine] |= builds.status != 0
    found = np.maximum(found, 0.0) * columns["pattern"] * columns["bar_current"][:, None]
    return found, voltage, out | ~fair


def pattern_of(field: Field, bars: FloatArray, moves: FloatArray, baskets: FloatArray) -> FloatArray:
    """(n, rows): how the current of every row changes with moves (n, 4) [m] and baskets (n, 3), 1 whole, 0 dead.

    exp(a s + b s^2) of each move, and 1 + (1 - state) (dead basket's factor - 1): exact for a linear cathode at state
    0 and 1, since with a share of its current the field is between both.
    """
    s = np.clip(moves, -FARTHEST, FARTHEST)
    found = np.zeros((len(bars), field.rows))
    for bar, share in _bars(field, bars):
        mine = np.flatnonzero(share)
        first, second = field.moves[bar, :, :, 0], field.moves[bar, :, :, 1]
        log = s[mine] @ first.T + s[mine] ** 2 @ second.T
        lost = (1.0 - np.clip(baskets[mine], 0.0, 1.5)) @ field.baskets[bar].T
        found[mine] += share[mine, None] * np.exp(log) * np.maximum(1.0 + lost, 0.05)
    return found


def _bars(field: Field, number: FloatArray) -> Iterator[tuple[int, FloatArray]]:
    """Each bar that is met, and its share in every build: 1 of a bar, 1/2 of two for a place between them."""
    at = np.clip(number, 0.0, field.bars - 1.0)
    for bar in range(field.bars):
        share = np.maximum(1.0 - np.abs(at - bar), 0.0)
        if share.any():
            yield bar, share


def in_slices(
    run: Callable[[Mapping[str, FloatArray]], tuple[Columns, StatusArray]], columns: Mapping[str, FloatArray]
) -> tuple[Columns, StatusArray]:
    """A station's run over slices of its builds: maps of the whole bar stay in the processor's cache."""
    n = len(next(iter(columns.values())))
    parts = [run({name: c[k : k + SLICE] for name, c in columns.items()}) for k in range(0, max(n, 1), SLICE)]
    given = {name: np.concatenate([part[0][name] for part in parts]) for name in parts[0][0]}
    return given, np.concatenate([part[1] for part in parts])
