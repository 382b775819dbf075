"""Laws of the hit for whatever sheet the checker accepts: energy and momentum close, or the build has no value."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from firstoff import launch
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.station import FloatArray
from firstoff.physics.impact import beam
from firstoff.physics.impact.bar_material import MATERIALS
from firstoff.sheets.quantity import parse
from firstoff.stations.bumper.mounting import impact_rows
from firstoff.stations.bumper.mounting.impact import Impact
from firstoff.stations.bumper.mounting.impact_sheet import ABSORBERS, KINDS, Blow, Guarded, ImpactDrawing
from firstoff.stations.settle import Settings, nominals
from tests.launch.test_bumper_hits import sheet

N = 5


@pytest.fixture(scope="module")
def formed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Settings, dict[str, FloatArray]]:
    """The example's sheet, and a bar as it comes from the presses."""
    plan = launch.plan(launch.read_job(sheet(tmp_path_factory.mktemp("laws"))))
    x = {name: np.full(1, value) for name, value in nominals(plan.stations, plan.job.settings).items()}
    bar = [s for s in plan.stations if s.name != "impact"]
    return plan.job.settings, run(bar, plan.plans, Ensemble(x, {})).columns


def ranges(station: Impact, rng: np.random.Generator) -> dict[str, FloatArray]:
    """Parameters anywhere in the ranges that the checker accepts, small and large alike."""
    found = {}
    for p in station.parameters:
        assert p.low is not None
        assert p.high is not None
        low, high = parse(p.low, p.unit).nominal, parse(p.high, p.unit).nominal
        u = rng.uniform(size=N)
        small = np.where(rng.uniform(size=N) < 0.2, 0.0, high * 10.0 ** (-4.0 * u))
        found[p.name] = low * (high / low) ** u if low > 0.0 else small
    return found


@settings(max_examples=12, deadline=None, derandomize=True)
@given(
    some.sampled_from(KINDS), some.floats(0.06, 5.5), some.floats(-1.0, 1.0), some.floats(0.1, 20.0),
    some.floats(0.025, 2.5), some.floats(0.0, 1.04), some.floats(-0.2, 0.2), some.floats(0.06, 0.96),
    some.sampled_from(MATERIALS), some.sampled_from(ABSORBERS), some.booleans(), some.integers(0, 2**32 - 1),
)  # fmt: skip
def test_energy_and_momentum_close_for_any_sheet(
    formed: tuple[Settings, dict[str, FloatArray]], kind: str, speed: float, place: float, radius: float,
    half_width: float, angle: float, height: float, bracket: float, material: str, absorber: str, four: bool, seed: int,
) -> None:  # fmt: skip
    own, made = formed
    bumper, rng = own.drawing, np.random.default_rng(seed)
    blow = Blow("h", kind, speed, place * (0.5 * bumper.length + 0.1), 0.0 if kind == "barrier" else radius,
                half_width, angle, height, "")  # fmt: skip
    at = bracket * 0.5 * bumper.length
    inner = 0.5 * at if four and at > 0.08 else 0.0
    drawn = ImpactDrawing(at, (Guarded("g", 0.2, 0.04),), (blow,), material, absorber, inner)
    station = Impact(replace(own, drawing=replace(bumper, impact=drawn)))
    data = station.data(replace(own, drawing=replace(bumper, impact=drawn)))
    x = ranges(station, rng)
    columns = {name: np.repeat(column, N, axis=0) for name, column in made.items()}
    columns |= {"slip_load": 10.0 ** rng.uniform(2.0, 6.0, N), "slip_gap": rng.uniform(0.0, 0.01, N)}
    bars, _, _ = impact_rows.bars(data, columns, x)
    _, aim, pitch = data["strikers"][0]
    cars, strikers = impact_rows.movers(blow, aim, pitch, x, drawn, data["length"],
                                        impact_rows.plate_of(data, columns, x))  # fmt: skip
    found, _ = beam.hit(
        data["meshes"][0], bars, impact_rows.brackets(x, columns, len(drawn.places)), cars, strikers, data["end"]
    )
    good = (found.status & 128) == 0
    assert (np.abs(found.residual[good]) < 1e-3).all()
    assert (np.abs(found.momentum[good]) < 1e-6).all()
    assert np.isfinite(found.permanent_set[good]).all()
    assert np.isnan(found.peak[~good]).all()
    passed_by = (found.status & 2) == 0  # of those without a value
    assert (~good & ~passed_by).sum() <= 1
