"""Explain on the example launch, and on blind launches with planted faults."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from blind import Planted, launch_with

from firstoff import launch
from firstoff.chain.fault import Fault
from firstoff.errors import InputFault
from firstoff.launch.demo import copy_example
from firstoff.launch.explaining.account import explain_text
from firstoff.launch.explaining.explain import LaunchExplanation, explain, read_trial
from firstoff.launch.plan import LaunchPlan
from firstoff.trials.readings import Trial

SIZE = {"cell_reads_low": 0.88}


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return copy_example("light_truck_front", tmp_path_factory.mktemp("launch"))


@pytest.fixture(scope="module")
def plan(sheet: Path) -> LaunchPlan:
    return launch.plan(launch.read_job(sheet))


@pytest.fixture(scope="module")
def example(plan: LaunchPlan, sheet: Path) -> LaunchExplanation:
    good = read_trial(plan, sheet.parent / "good_lot.csv")
    return explain(plan, read_trial(plan, sheet.parent / "first_offs.csv"), good)


def fault(plan: LaunchPlan, name: str) -> Fault:
    return next(f for f in plan.job.family.faults if f.name == name)


def test_the_planted_spring_is_named(example: LaunchExplanation) -> None:
    # planted by tools/make_example_readings.py: all rebound relief springs 15 N under their 84 N
    top = example.found.causes[0]
    assert (top.name, top.stations, top.who) == ("rebound_relief_weak", ("piston_valve",), "all parts")
    assert top.probability > 0.9
    assert top.low is not None and top.high is not None
    assert 84 * (1 - top.high) < 15 < 84 * (1 - top.low)
    assert "rebound relief preload" in example.size_text(top) and example.size_text(top).endswith("N low")
    assert {name for name, _ in top.readings[:3]} == {"rebound_0.52", "rebound_1.04", "rebound_1.5"}
    assert example.found.none < 1e-6
    # the readings carry their temperature, so a warm damper is not among the suspects
    assert "damper_warm" not in example.found.faults


def test_result_is_json_without_nan(example: LaunchExplanation) -> None:
    result = json.loads(json.dumps(example.as_dict(), allow_nan=False))
    top = result["causes"][0]
    assert top["stated_by"][0]["cure"] and top["stated_by"][0]["beware"]
    assert result["not_seen"] and result["assumptions"]
    assert sum(result["who"].values()) == pytest.approx(1.0)


def test_every_fault_of_the_list_has_values_and_a_station(plan: LaunchPlan, example: LaunchExplanation) -> None:
    assert example.prepared.not_computed == ()
    stations = {s.name for s in plan.stations}
    faults = plan.job.family.faults
    assert {f.station for f in faults} <= stations
    assert len({f.name for f in faults}) == len(faults)
    parameters = {f"{s.name}.{p.name}" for s in plan.stations for p in s.parameters}
    for f in faults:
        assert f.confirm and f.cure and f.beware and f.source
        assert f.acts != "parameters" or {m.name for m in f.moves} <= parameters


def test_weak_gas_and_a_cell_zero_are_one_to_these_readings(plan: LaunchPlan) -> None:
    # physics: a gas force is added to every force, as a zero of the cell is (textbook force balance)
    planted = launch_with(plan, fault(plan, "cell_zero"), 3, size=35.0, parts=8)
    found = explain(plan, planted.trial).found
    assert {c.name for c in found.causes[:2]} == {"cell_zero", "gas_low"}
    assert "gas_low" in next(c for c in found.causes if c.name == "cell_zero").alike
    assert found.causes[0].probability < 0.9


def test_warm_damper_is_a_suspect_only_without_its_temperature(plan: LaunchPlan) -> None:
    planted = launch_with(plan, fault(plan, "damper_warm"), 3, size=38.0, parts=8, temperatures=False)
    found = explain(plan, planted.trial)
    assert found.found.causes[0].name == "damper_warm"
    # physics: warmth thins the oil and raises the gas force; thin oil leaves the gas alone
    gas = found.prepared.scene.names.index("static_gas_force")
    suspects = {s.name: s.shifts[:, gas] for s in found.prepared.suspects}
    assert np.abs(suspects["oil_thin"]).max() < 1e-9
    assert suspects["damper_warm"].min() < -5.0
    noted = launch_with(plan, fault(plan, "damper_warm"), 3, size=38.0, parts=8)
    known = explain(plan, noted.trial).found
    assert "damper_warm" not in known.faults and known.none > 0.5


def test_crimp_and_spring_of_one_valve_are_not_told_apart(plan: LaunchPlan) -> None:
    planted = launch_with(plan, fault(plan, "crimp_long"), 5, size=1.5e-4, parts=8, who="all")
    without = explain(plan, planted.trial, launch_with(plan, None, 9000, parts=8).trial).found
    assert next(iter(without.stations)) == "base_valve"
    assert len([c for c in without.causes if c.probability > 0.03]) > 1
    assert "compression_relief_weak" in {n for c in without.causes[:3] for n in (c.name, *c.alike)}


def test_several_lots_or_unknown_readings_are_refused(plan: LaunchPlan) -> None:
    trial = launch_with(plan, None, 1).trial
    mixed = Trial((*trial.readings, replace(trial.readings[0], lot="other")), "x.csv")
    with pytest.raises(InputFault, match="one lot at a time"):
        explain(plan, mixed)
    with pytest.raises(InputFault, match="no reading that a station"):
        explain(plan, Trial((replace(trial.readings[0], characteristic="rod_runout"),), "x.csv"))


@dataclass(frozen=True)
class Answer:
    planted: Planted
    explanation: LaunchExplanation

    @property
    def identifiable(self) -> bool:
        """Whether the readings say that something is wrong, and tell the fault from the one they are blamed on."""
        found = self.explanation.found
        assert self.planted.fault
        return found.none < 0.5 and self.planted.fault.name not in found.causes[0].alike

    @property
    def right(self) -> bool:
        assert self.planted.fault
        return next(iter(self.explanation.found.stations)) == self.planted.fault.station


def answers(plan: LaunchPlan, faults: list[Fault | None]) -> list[Answer]:
    """Blind launches of a damper unlike the drawing, and a good lot of it; true scatter 0.7 to 1.5 times the stated."""

    def one(job: tuple[int, Fault | None]) -> Answer:
        i, planted_fault = job
        noted = planted_fault is None or not planted_fault.name.startswith("damper_")
        planted = launch_with(plan, planted_fault, 300 + i, (0.7, 1.0, 1.5)[i % 3], noted, crooked=True)
        good = launch_with(plan, None, 9000 + i, parts=8, crooked=True).trial
        return Answer(planted, explain(plan, planted.trial, good))

    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(one, enumerate(faults)))


def test_blind_launches(plan: LaunchPlan) -> None:
    # some of the declared faults once, at a random size, by a damper unlike the drawing, and healthy lots; the
    # rates are those of `make blind`
    faults: list[Fault | None] = list(plan.job.family.faults[1::5])
    found = [a for a in answers(plan, faults) if a.identifiable]
    assert len(found) >= 0.5 * len(faults)  # small sizes hide in the scatter: not to be named
    assert np.mean([a.right for a in found]) >= 0.9
    healthy = answers(plan, [None] * 4)
    assert max(max(a.explanation.found.faults.values()) for a in healthy) < 0.7


@pytest.mark.parametrize("name", ["rebound_disc_missing", "cell_reads_low", "compression_bleed_missing"])
def test_a_fault_taken_off_the_list_is_called_something_else(plan: LaunchPlan, name: str) -> None:
    planted = launch_with(plan, fault(plan, name), 100, who="all", parts=8, crooked=True, size=SIZE.get(name))
    good = launch_with(plan, None, 900, parts=8, crooked=True).trial
    kept = tuple(f for f in plan.job.family.faults if f.name != name)
    shorter = replace(plan, job=replace(plan.job, family=replace(plan.job.family, faults=kept)))
    found = explain(shorter, planted.trial, good)
    assert found.found.other > 0.5
    assert max(found.found.faults.values(), default=0.0) < 0.7
    assert found.found.hints and found.calibration is not None
    text = explain_text(found)
    assert "Everything calibrated at once" in text
    assert explain(plan, planted.trial, good).found.causes[0].name == name
