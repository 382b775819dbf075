"""The rig in motion on the example damper: what low oil, air, a late intake and a crooked guide do to its loop."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from firstoff import launch
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.order import order
from firstoff.chain.predict import predict, values_of
from firstoff.chain.sample import sample
from firstoff.chain.station import Plan, Station
from firstoff.chain.status import Status
from firstoff.launch.demo import copy_example
from firstoff.physics.damper.gas import pressure_at_stroke
from firstoff.physics.damper.twin_tube import circle_area
from firstoff.stations.damper.dynamic_rig import PLACES, DynamicRig

Chain = tuple[tuple[Station, ...], dict[str, Plan]]


@pytest.fixture(scope="module")
def chain(tmp_path_factory: pytest.TempPathFactory) -> Chain:
    sheet: Path = copy_example("light_truck_front", tmp_path_factory.mktemp("launch"))
    plan = launch.plan(launch.read_job(sheet))
    rig = DynamicRig(plan.job.settings.speeds)
    return order((*plan.stations, rig)), {**plan.plans, rig.name: rig.plan(plan.job.settings)}


def built(chain: Chain, **changes: float) -> tuple[dict[str, float], int]:
    """One build at nominal, but for the named parameters (station__parameter), and its status in the rig."""
    columns = {v.name: np.array([v.nominal]) for v in values_of(*chain)}
    for name, value in changes.items():
        columns[name.replace("__", ".")] = np.array([value])
    found = run(*chain, Ensemble(columns, {}))
    return {name: float(column[0]) for name, column in found.columns.items() if column.ndim == 1}, int(
        found.status["dynamic_rig"][0]
    )


def test_loop_at_half_stroke_is_near_the_steady_force(chain: Chain) -> None:
    """At half stroke the speed stands still for a moment: both models must agree to a few newtons."""
    found, flags = built(chain)
    assert flags == Status.OK
    assert found["loop_rebound"] == pytest.approx(found["rebound_0.52"], abs=3.0)
    assert found["loop_compression"] == pytest.approx(found["compression_0.52"], abs=3.0)
    # a loop between the ellipse of a linear damper and a full rectangle of both forces (geometry)
    both = (found["loop_rebound"] - found["loop_compression"]) * 0.1
    assert math.pi / 4 * both < found["loop_energy"] < both


def test_crawling_shows_friction_and_gas_force_of_each_place(chain: Chain) -> None:
    found, _ = built(chain)
    rod = float(circle_area(found["rod_diameter"]))
    warm = found["damping_rig.oil_temperature"] - found["gas_charge.temperature"]
    room = found["gas_volume"] - found["oil_volume_15"] * found["oil_fill.expansion"] * warm
    room -= rod * found["damping_rig.rod_travel"]
    for name, x in (("in", -PLACES * 0.05), ("out", PLACES * 0.05)):
        p = float(pressure_at_stroke(found["gas_pressure"], room, rod, -x, 1.2))
        assert found[f"crawl_gas_{name}"] == pytest.approx(-(p - 101325.0) * rod, abs=0.3)
        # what the bleed takes at 2 mm/s comes on top
        assert 0 < found[f"crawl_friction_{name}"] - found["damping_rig.friction"] < 6.0


def test_each_fault_has_a_signature_of_its_own(chain: Chain) -> None:
    at, _ = built(chain)
    low, low_flags = built(chain, oil_fill__volume=0.82 * at["oil_fill.volume"])
    air, _ = built(chain, oil_fill__entrained_gas=0.08)
    late, _ = built(chain, dynamic_rig__intake_lag=0.04)
    bent, _ = built(chain, dynamic_rig__guide_angle=math.radians(0.3))
    tight, _ = built(chain, damping_rig__friction=at["damping_rig.friction"] + 40.0)
    assert not low_flags & Status.NO_VALUE

    def moved(of: dict[str, float], name: str) -> float:
        return of[name] - at[name]

    # gas where oil should be: the force comes late and the loop is wide, steady forces hardly move
    for of in (low, air):
        assert moved(of, "loop_dead_compression") > 1.5e-3
        assert moved(of, "loop_hysteresis_compression") > 30.0
        assert moved(of, "loop_energy") < -0.5
    assert abs(moved(air, "rebound_0.52")) < 5.0
    assert moved(low, "crawl_gas_in") > 4.0 > abs(moved(air, "crawl_gas_in")) + 3.5  # more room for the gas
    assert moved(late, "loop_dead_compression") > 1e-3 and abs(moved(late, "loop_dead_rebound")) < 2e-4
    assert moved(late, "rebound_0.52") == 0.0
    # a crooked guide rubs more the further the rod is out; a tight seal everywhere alike
    assert moved(bent, "crawl_friction_out") > 2.0 * moved(bent, "crawl_friction_in") > 10.0
    assert moved(tight, "crawl_friction_out") == pytest.approx(40.0, abs=0.1)
    assert moved(tight, "crawl_friction_in") == pytest.approx(40.0, abs=0.1)
    assert moved(bent, "rebound_0.52") == 0.0


def test_scatter_has_a_value_in_every_build_on_one_worker_and_two(chain: Chain) -> None:
    one, two = (predict(*chain, 256, 1, workers=w, chunk=64) for w in (1, 2))
    assert one.characteristics == two.characteristics
    assert one.any_outside.without_value == 0
    work = next(c for c in one.characteristics if c.characteristic.name == "loop_energy")
    assert work.scatter is not None and 0 < work.scatter.sd < 0.05 * work.scatter.mean


def test_build_that_cannot_move_is_told_and_spoils_no_neighbour(chain: Chain) -> None:
    values = values_of(*chain)
    columns = sample(values, 0, 4, 1)
    columns["dynamic_rig.rebound_length"][1] = 0.04  # shorter than half the stroke
    columns["oil_fill.volume"][2] = 1.2e-4  # does not even fill the pressure tube
    found = run(*chain, Ensemble(columns, {}))
    flags = found.status["dynamic_rig"]
    assert [bool(f & Status.NO_VALUE) for f in flags] == [False, True, True, False]
    alone = run(*chain, Ensemble({name: column[3:] for name, column in columns.items()}, {}))
    assert found.columns["loop_energy"][3] == alone.columns["loop_energy"][0]


def test_rig_of_several_strokes_runs_each_at_its_own(chain: Chain) -> None:
    columns = {v.name: np.full(3, v.nominal) for v in values_of(*chain)}
    columns["damping_rig.stroke"] = np.array([0.1, 0.05, 0.1])
    energy = run(*chain, Ensemble(columns, {})).columns["loop_energy"]
    assert energy[0] == energy[2] and energy[1] < 0.6 * energy[0]


def test_rig_that_runs_fast_reads_more(chain: Chain) -> None:
    """A speed fault makes the stations for other speeds: the loop must follow the table."""
    fast = DynamicRig((0.05, 0.6, 1.0))
    assert fast.speed == 0.6 and DynamicRig().speed == 0.52
    plans = dict(chain[1])
    plans["dynamic_rig"] = replace(plans["dynamic_rig"])
    columns = {v.name: np.array([v.nominal]) for v in values_of(*chain)}
    stations = tuple(fast if s.name == "dynamic_rig" else s for s in chain[0])
    more = run(stations, plans, Ensemble(columns, {})).columns["loop_rebound"][0]
    assert more > built(chain)[0]["loop_rebound"] + 20.0
