"""What the bar is of, what stands before it, and when its chrome cracks: one hit, several launches."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from firstoff import launch
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.station import FloatArray
from firstoff.chain.status import Status
from firstoff.errors import InputFault
from firstoff.physics.impact import bar_material, dent
from firstoff.stations.settle import nominals
from tests.launch.test_bumper_hits import sheet

HIT = """
[mounting]
bracket = "450 mm"
MORE
[[guarded_point]]
name = "tank"
along = "0 mm"
clearance = "60 mm"

[[hit]]
name = "middle"
kind = "pendulum"
speed = "SPEED km/h"

[characteristics.peak_force_middle]
unit = "kN"
limits = "<= 80 kN"

"""


def hit(
    folder: Path, more: str = "", speed: str = "2.4", n: int = 1, changes: dict[str, list[float]] | None = None
) -> tuple[dict[str, FloatArray], FloatArray]:
    """Columns and status of the hit, the parameters at nominal but for the changes."""
    plan = launch.plan(launch.read_job(sheet(folder, HIT.replace("MORE", more).replace("SPEED", speed))))
    x = {name: np.full(n, value) for name, value in nominals(plan.stations, plan.job.settings).items()}
    x |= {name: np.array(values) for name, values in (changes or {}).items()}
    found = run(plan.stations, plan.plans, Ensemble(x, {}))
    return found.columns, found.status["impact"]


def test_a_bar_of_another_material_takes_its_law(tmp_path: Path) -> None:
    """The same section: of one thickness the softer material gives way more, and a laminate breaks where it is told."""
    thick = {"aluminium": [3e-3, 8e-3], "plastic": [8e-3, 12e-3], "laminate": [3e-3, 8e-3]}
    found = {}
    for name, walls in thick.items():
        (tmp_path / name).mkdir()
        found[name] = hit(tmp_path / name, f'bar = "{name}"\n', n=2, changes={"impact.bar_thickness": walls})
    intrusion = {name: columns["intrusion_middle"] for name, (columns, _) in found.items()}
    assert (intrusion["aluminium"] < intrusion["laminate"]).all()
    assert intrusion["laminate"][1] < intrusion["plastic"][0]  # 8 mm of either
    for columns, status in found.values():
        assert columns["intrusion_middle"][1] < columns["intrusion_middle"][0]
        assert not status.any()
    columns, status = hit(
        tmp_path, 'bar = "laminate"\n', speed="6", n=2, changes={"impact.bar_thickness": [2e-3, 14e-3]}
    )
    broken = columns["bar_strain_middle"] > bar_material.break_strain("laminate")
    assert ((status & Status.OUT_OF_RANGE) > 0).tolist() == broken.tolist() == [True, False]


def test_a_laminate_is_elastic_until_it_breaks_and_aluminium_yields_where_its_law_says() -> None:
    """Stress at the strain of first yield by Swift's law; the laminate's yield lies beyond its strain at break."""
    law = bar_material.material("aluminium")
    assert law.strength * law.first_strain**law.exponent == pytest.approx(220e6)
    brittle = bar_material.material("laminate")
    assert brittle.strength * brittle.first_strain**brittle.exponent > brittle.modulus * brittle.break_strain
    assert all("assumed" in bar_material.source(name) for name in bar_material.MATERIALS[1:])


def test_springs_give_back_what_they_do_not_keep(tmp_path: Path) -> None:
    """The work that springs keep is their share of it: with a loss of 60 % the striker comes back slower."""
    changes = {"impact.absorber_depth": [0.06, 0.06], "impact.absorber_loss": [0.0, 0.6],
               "impact.absorber_rate": [5e6, 5e6]}  # fmt: skip
    columns, status = hit(tmp_path, 'absorber = "springs"\n', n=2, changes=changes, speed="1.5")
    assert not status.any()
    before = 0.5 * 1800.0 * (1.5 / 3.6) ** 2
    taken = columns["loop_energy_middle"]
    # two equal masses with nothing between them but springs: half the energy is that of the common speed; of the other
    # half the springs keep their share (momentum and energy, textbook), the bar rings with some of it
    assert columns["bar_work_middle"][1] < 0.02 * before
    assert taken[1] - taken[0] == pytest.approx(0.5 * before * 0.6, rel=0.25)
    assert columns["restitution_middle"][0] > 0.8 > columns["restitution_middle"][1]


def test_the_chrome_cracks_beyond_its_strain(tmp_path: Path) -> None:
    columns, _ = hit(tmp_path, n=3, changes={"impact.chrome_squeeze": [1e-4, 0.015, 0.3]})
    strain, cracked = columns["chrome_strain_middle"], columns["chrome_cracked_middle"]
    assert strain[0] == strain[2] > 1e-4
    assert cracked[0] == 1.0
    assert cracked[2] == 0.0
    assert 0.0 < strain[0] < columns["bar_strain_middle"][0]  # the tips of the walls lie further out


def test_a_face_that_dents_keeps_a_dent_and_takes_the_peak_away(tmp_path: Path) -> None:
    columns, _ = hit(tmp_path, n=3, changes={"impact.dent_share": [0.0, 5.0, 20.0]})
    kept, force = columns["dent_middle"], columns["peak_force_middle"]
    assert kept[0] < 1e-5 < kept[2] < kept[1]
    assert force[1] < force[0]
    assert columns["striker_travel_middle"][1] > columns["striker_travel_middle"][0]


def test_a_strip_dents_as_the_clamped_beam() -> None:
    """By hand: 206 GPa, 2 mm, 200 mm high: 192 E I/b3 with I = t3/12 a metre; 8 Mp/b with Mp = 400 MPa t2/4."""
    strip = dent.clamped_strip(206e9, 400e6, 2e-3, 0.2)
    assert float(strip.stiffness) == pytest.approx(192.0 * 206e9 * (8e-9 / 12.0) / 8e-3)
    assert float(strip.collapse) == pytest.approx(8.0 * 400.0 / 0.2)


def test_a_second_pair_of_brackets_bears_its_share(tmp_path: Path) -> None:
    """Two more brackets between the outer ones: the bar gives way less, and each bracket bears less."""
    for name in ("two", "four"):
        (tmp_path / name).mkdir()
    two, four = (hit(tmp_path / n, more)[0] for n, more in (("two", ""), ("four", 'inner_bracket = "250 mm"\n')))
    assert four["intrusion_middle"][0] < 0.8 * two["intrusion_middle"][0]
    assert four["peak_force_middle"][0] > two["peak_force_middle"][0]
    whole = four["rail_load_left_middle"][0] + four["rail_load_right_middle"][0]
    assert whole == pytest.approx(four["peak_force_middle"][0], rel=0.15)  # but for the bar's inertia
    with pytest.raises(InputFault, match="too near"):
        hit(tmp_path, 'inner_bracket = "440 mm"\n')


def test_settled_bolts_turn_on_and_are_longer_as_the_rod_says(tmp_path: Path) -> None:
    """Audit: the torque less what settled (12 %, and a little more where faces are plated). Stretch: F l/(E A_s) by
    hand, A_s of M12 = 84.3 mm2 (ISO 898-1)."""
    columns, _ = hit(tmp_path)
    assert columns["audit_torque"][0] == pytest.approx(85.0 * 0.88, rel=0.06)
    by_hand = columns["bolt_preload"][0] * (0.030 + 0.012) / (205e9 * 84.3e-6)
    assert columns["bolt_stretch"][0] == pytest.approx(by_hand, rel=1e-3)


def test_an_unknown_material_is_refused_with_those_that_are_known(tmp_path: Path) -> None:
    with pytest.raises(InputFault) as caught:
        hit(tmp_path, 'bar = "alumnium"\n')
    assert any("aluminium" in str(m) and m.line for m in caught.value.messages)
