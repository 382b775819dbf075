"""The pocket calculations of a hit against closed forms: plastic hinge, thin channel, lever of the brackets."""

from __future__ import annotations

import pytest

from firstoff.errors import InputFault
from firstoff.launch.calculations import find
from firstoff.physics.impact.pendulum import central_hinge
from firstoff.physics.impact.section import channel

CASE = {
    "length_mm": 1000, "span_mm": 1000, "web_height_centreline_mm": 120, "flange_depth_from_web_centreline_mm": 50,
    "yield_MPa": 300, "exponent": 0.001, "bracket_stiffness_N_per_mm": 1e5, "striker_mass_kg": 1500,
    "vehicle_mass_kg": 1500, "speed_m_per_s": 0.67, "striker_radius_mm": 20,
}  # fmt: skip


def hinge(thickness: float) -> tuple[float, float]:
    """Intrusion [mm] and plastic work [J] of the elastic, perfectly plastic hinge: momentum and energy balance."""
    section = channel(0.12, 0.05, thickness)
    found = central_hinge(1.0, 206e9 * float(section.inertia), 300e6 * float(section.plastic_modulus), 1500.0, 1500.0,
                          0.67, bracket_stiffness=1e8)  # fmt: skip
    return 1e3 * found.intrusion, found.plastic_work


@pytest.mark.parametrize("thickness", [2.0, 2.5, 3.5])
def test_a_channel_gives_way_as_the_plastic_hinge(thickness: float) -> None:
    """An open channel yields at its tips before the hinge is whole, so it gives way a little more."""
    found = find("impact-channel-bar")({**CASE, "thickness_mm": thickness})
    intrusion, work = hinge(thickness * 1e-3)
    assert found["intrusion"] == pytest.approx(intrusion, rel=0.06)
    assert found["bar_work"] == pytest.approx(work, rel=0.1)
    assert abs(found["energy_residual"]) < 1e-3
    assert found["load_left"] == pytest.approx(found["load_right"], rel=0.01)


def test_the_thickness_is_the_hit_turned_round() -> None:
    asked = {**CASE, "intrusion_mm": 30.0, "thickness_least_mm": 1.0, "thickness_most_mm": 6.0}
    thickness = find("impact-channel-thickness")(asked)["thickness"]
    assert find("impact-channel-bar")({**CASE, "thickness_mm": thickness})["intrusion"] <= 30.0 * (1 + 1e-6)
    assert hinge(thickness * 1e-3)[0] == pytest.approx(30.0, rel=0.06)
    with pytest.raises(InputFault, match="gives way more"):
        find("impact-channel-thickness")({**asked, "intrusion_mm": 0.5})


def test_a_hit_beside_the_middle_loads_the_near_bracket_more() -> None:
    """Lever of a beam on two supports: at 3/4 of the span the loads stand 1 to 3, but for inertia."""
    found = find("impact-channel-bar")({**CASE, "thickness_mm": 2.5, "place_mm": 250.0, "striker_mass_kg": 300.0})
    assert found["load_right"] / found["load_left"] == pytest.approx(3.0, rel=0.15)


def test_what_cannot_stand_is_refused() -> None:
    for more, words in (({"span_mm": 1200}, "on the bar"), ({"place_mm": 700}, "beyond the bar")):
        with pytest.raises(InputFault, match=words):
            find("impact-channel-bar")({**CASE, "thickness_mm": 2.0, **more})
