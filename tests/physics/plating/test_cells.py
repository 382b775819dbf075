"""Cells and Faraday's law against finite elements and quadrature."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad
from skfem import Basis, ElementTriP2, MeshTri, asm, condense, solve
from skfem.models.poisson import laplace

from firstoff.errors import InputFault
from firstoff.launch.calculations import find
from firstoff.physics.plating import cells, faraday, hull

SIDES = (0.047625, 0.127, 0.0635)  # short, long, width of the 267 ml cell


def finite_elements(short: float, long: float, width: float, refine: int) -> float:
    """Resistance times conductivity and depth by quadratic triangles (scikit-fem)."""
    mesh = MeshTri.init_tensor(np.linspace(0.0, 1.0, 9), np.linspace(0.0, 1.0, 9)).refined(refine)
    # the anode at x = 0, y from 0 to width; the short side at y = width
    y = mesh.p[1] * width
    points = np.vstack([mesh.p[0] * (long + (short - long) * mesh.p[1]), y])
    square = MeshTri(points, mesh.t)
    basis = Basis(square, ElementTriP2())
    anode, cathode = (
        basis.get_dofs(lambda p, s=s: np.isclose(p[0], s * (long + (short - long) * p[1] / width), atol=1e-9)).flatten()
        for s in (0.0, 1.0)
    )
    stiffness = asm(laplace, basis)
    u = np.zeros(basis.N)
    u[anode] = 1.0
    u = solve(*condense(stiffness, x=u, D=np.concatenate([anode, cathode])))
    return 1.0 / float(u @ (stiffness @ u))


@pytest.mark.parametrize("sides", [SIDES, (0.02, 0.12, 0.05), (0.08, 0.09, 0.1)])
def test_hull_cell_resistance_against_finite_elements(sides: tuple[float, float, float]) -> None:
    found = hull.hull_cell(*sides).resistance
    coarse, fine = (finite_elements(*sides, n) for n in (2, 3))
    # the corners' singularities slow the finite elements down to the first order or so
    assert found == pytest.approx(fine, rel=2e-3)
    assert abs(found - fine) < abs(found - coarse)  # and the finite elements come nearer as they get finer


def test_hull_cell_current_is_conserved() -> None:
    cell = hull.hull_cell(*SIDES)
    # integral of i/i_avg over the cathode, the singular near end substituted away
    power = 1.0 / (0.5 + cell.share)

    def density(s: float) -> float:
        x = s**power
        return float(hull.density(cell, x)) * power * s ** (power - 1.0)

    assert quad(density, 1e-4, 1.0, limit=60, epsabs=1e-6)[0] == pytest.approx(1.0, abs=1e-3)


def test_a_rectangle_is_even() -> None:
    cell = hull.hull_cell(0.1, 0.1, 0.05)
    assert cell.resistance == pytest.approx(2.0, rel=1e-9)  # length over width
    assert hull.density(cell, np.array([0.1, 0.9])) == pytest.approx([1.0, 1.0])
    nearly = hull.hull_cell(0.1, 0.1 * (1.0 + 1e-6), 0.05)
    assert hull.density(nearly, np.array([0.3, 0.7])) == pytest.approx([1.0, 1.0], rel=1e-4)


def test_a_cell_that_does_not_fit_is_refused() -> None:
    good = {"anode_width_mm": 63.5, "short_insulating_side_mm": 47.625, "long_insulating_side_mm": 127.0}
    assert find("hull-cell-primary-distribution")(good)["R_times_conductivity_times_depth"] == pytest.approx(
        1.0563, rel=1e-4
    )
    for more, words in (
        ({"cathode_length_mm": 90.0}, "does not fit"),
        ({"x": 0.0}, "above 0"),
        ({"x": 1.2}, "at most 1"),
    ):
        with pytest.raises(InputFault, match=words):
            find("hull-cell-primary-distribution")({**good, **more})


def test_disc_encloses_what_its_density_sums_to() -> None:
    for r in (0.2, 0.7, 0.95):
        enclosed = quad(lambda s: float(cells.disc_density(s)) * 2.0 * s, 0.0, r)[0]
        assert float(cells.disc_enclosed(r)) == pytest.approx(enclosed, rel=1e-7)


def test_cylinders_against_quadrature_and_the_other_cathode() -> None:
    a, b, kappa = 0.05, 0.2, 8.0
    found = cells.coaxial_cylinders(a, b, 1.0, kappa, 2.0, 2e-4, 5e-5)
    assert float(found.resistance_primary) == pytest.approx(quad(lambda r: 1.0 / (2.0 * math.pi * r * kappa), a, b)[0])
    # the voltage adds up along the way
    i = float(found.current_linear)
    drops = i * float(found.resistance_primary) + float(found.inner_linear) * 2e-4 + float(found.outer_linear) * 5e-5
    assert drops == pytest.approx(2.0)
    assert float(found.inner_linear) * a == pytest.approx(float(found.outer_linear) * b)


def test_throwing_power_has_its_ends() -> None:
    assert float(cells.haring_blum(0.04, 0.2, 8.0, 0.0)[2]) == 0.0
    assert float(cells.haring_blum(0.04, 0.2, 8.0, 1e6)[2]) == pytest.approx(1.0, rel=1e-6)


def test_faraday_there_and_back() -> None:
    nickel = faraday.metals()["Ni"]
    t = faraday.time_for(30e-6, 400.0, 0.95, nickel)
    assert float(faraday.thickness(400.0, 0.95, t, nickel)) == pytest.approx(30e-6, rel=1e-12)
    assert float(faraday.charge_per_area(30e-6, 0.95, nickel)) == pytest.approx(400.0 * float(t), rel=1e-12)
    # handbooks of the trade print 1.095 g/Ah for nickel
    assert float(faraday.equivalent(nickel)) * 3.6e6 == pytest.approx(1.095, abs=5e-4)


def test_density_of_an_unknown_metal_is_asked_for() -> None:
    with pytest.raises(InputFault, match="density"):
        find("faraday-plating-rate")(
            {"metal": "Co", "molar_mass_g_per_mol": 58.93, "electrons": 2, "i_A_per_dm2": 4, "efficiency": 1.0}
        )
