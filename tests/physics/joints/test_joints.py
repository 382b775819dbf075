"""Bolted joints against printed tables and laws."""

from __future__ import annotations

import math

import numpy as np
import pytest

from firstoff.errors import InputFault
from firstoff.launch.calculations import find
from firstoff.physics.joints import joint, preload, threads

# proof loads [N] of ISO 898-1 as read in a public reprint of its tables: (class, size) -> load
PROOF = {
    ("4.6", "M5"): 3200, ("4.8", "M6"): 6230, ("5.6", "M8"): 10200, ("5.8", "M10"): 22000, ("6.8", "M12"): 37100,
    ("8.8", "M14"): 66700, ("8.8", "M18"): 115000, ("8.8", "M24"): 212000, ("9.8", "M16"): 102000,
    ("10.9", "M20"): 203000, ("10.9", "M27"): 381000, ("12.9", "M3"): 4880, ("12.9", "M22"): 294000,
}  # fmt: skip


@pytest.mark.parametrize(("grade", "size"), PROOF)
def test_proof_loads_of_the_printed_table(grade: str, size: str) -> None:
    d = float(size[1:]) * 1e-3
    found = threads.proof_load(d, threads.coarse_pitch(d), grade)
    assert found == pytest.approx(PROOF[grade, size], rel=0.007)  # the standard rounds area and load


def test_no_proof_load_where_the_standard_has_none() -> None:
    assert threads.proof_load(20e-3, 2.5e-3, "9.8") is None
    found = find("bolt-proof-load")({"size": ["M10", "M20"]})
    assert "F_p_9.8" not in found and len(found["F_p_8.8"]) == 2
    with pytest.raises(InputFault, match="no coarse thread"):
        find("bolt-proof-load")({"size": "M9"})


def test_three_torques_agree() -> None:
    # the rounded factors, the derivative form and the wedge differ by well under a per cent (VDI 2230's own statement)
    force, head = preload.assembly_preload(10e-3, 1.5e-3, 640e6, 0.12), preload.head_diameter(14.63e-3, 11e-3)
    torques = [
        f(force, 10e-3, 1.5e-3, 0.12, head) for f in (preload.torque, preload.torque_motosh, preload.torque_of_wedge)
    ]
    assert max(torques) / min(torques) < 1.005


def test_preload_is_what_uses_the_strength() -> None:
    # von Mises of tension and fully plastic torsion at the stress diameter, put together from its parts
    d, p, mu, strength = 12e-3, 1.75e-3, 0.14, 640e6
    size = threads.diameters(d, p)
    force = float(preload.assembly_preload(d, p, strength, mu))
    area, polar = math.pi / 4.0 * size.stress**2, math.pi / 12.0 * size.stress**3  # plastic polar modulus
    twist = force * size.pitch / 2.0 * (p / (math.pi * size.pitch) + 1.155 * mu)
    mises = math.sqrt((force / area) ** 2 + 3.0 * float(twist / polar) ** 2)
    assert mises == pytest.approx(0.9 * strength, rel=1e-9)


def test_scatter_brackets_and_tool_alone() -> None:
    high, mid, low = preload.preload_scatter(50.0, 0.0, 10e-3, 1.25e-3, 12.8e-3, (0.12, 0.12, 0.12))
    assert high == pytest.approx(mid) and mid == pytest.approx(low)
    with pytest.raises(ValueError, match="must rise"):
        preload.preload_scatter(50.0, 0.0, 10e-3, 1.25e-3, 12.8e-3, (0.16, 0.12, 0.1))


def test_load_share_balances_and_opens() -> None:
    loads = np.array([0.0, 10e3, 31.25e3, 40e3])
    found = joint.load_share(25e3, 0.2, loads)
    assert found.bolt - found.clamp == pytest.approx(loads)  # equilibrium
    assert found.clamp[-2:] == pytest.approx([0.0, 0.0], abs=1e-6) and found.bolt[-1] == 40e3


def test_stub_modes_are_the_least_of_its_mechanisms() -> None:
    for flange, mode in ((5e-3, 1), (12e-3, 2), (25e-3, 3)):
        found = joint.t_stub(0.1, flange, 355e6, 30e-3, 37.5e-3, 2, 48556.8)
        assert int(found.mode) == mode
        # load and prying together never ask more of the bolts than they give
        assert float(found.resistance + found.prying) <= float(found.mode_3) * (1 + 1e-12)
    # at the change from mode 1 to 2, both say the same (virtual work)
    total, m, n = 97113.6, 0.03, 0.0375
    moment = total * n * m / (2.0 * (2.0 * n + m))
    flange = math.sqrt(moment / (0.25 * 0.1 * 355e6))
    found = joint.t_stub(0.1, flange, 355e6, m, n, 2, 48556.8)
    assert float(found.mode_1) == pytest.approx(float(found.mode_2), rel=1e-9)
    with pytest.raises(ValueError, match=r"1\.25 m"):
        joint.t_stub(0.1, 12e-3, 355e6, 30e-3, 40e-3, 2, 48556.8)


def test_stripping_of_basic_profile() -> None:
    # basic sizes: the external thread's width at D1 is 3/4 P, the internal's at d is 7/8 P (ISO 68-1 geometry)
    d, p, length = 10e-3, 1.5e-3, 8e-3
    height = p * math.sqrt(3.0) / 2.0
    minor, middle = d - 1.25 * height, d - 0.75 * height
    found = threads.stripping(length, p, minor, middle, d, middle, 480e6, 300e6)
    assert float(found.external_area) == pytest.approx(math.pi * length * minor * 0.75, rel=1e-9)
    assert float(found.internal_area) == pytest.approx(math.pi * length * d * 0.875, rel=1e-9)


def test_thread_by_name_must_agree() -> None:
    given = {"thread": "M10x1.25", "Rp_MPa": 640, "mu": 0.12}
    by_name = find("bolt-assembly-preload")(given)["F"]
    assert by_name == pytest.approx(31630.46, rel=1e-6)  # VDI 2230 table, 31.6 kN
    with pytest.raises(InputFault, match="does not agree"):
        find("bolt-assembly-preload")({**given, "P_mm": 1.5})
    with pytest.raises(InputFault, match="written like"):
        find("bolt-assembly-preload")({**given, "thread": "3/8-16"})
