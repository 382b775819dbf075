"""The Hull-cell panel: the map's current against finite elements, and looks and thickness by hand."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from skfem import Basis, ElementTriP2, FacetBasis, Functional, MeshTri, asm, condense, solve
from skfem.helpers import dot
from skfem.models.poisson import laplace

from firstoff.launch.calculations import find
from firstoff.physics.plating import faraday, hull
from firstoff.physics.plating.deposit import BARE, BURNT, COVERED, Bath
from firstoff.physics.plating.hull_panel import LONG, SHORT, WIDTH, panel

LENGTH = float(np.hypot(WIDTH, LONG - SHORT))
CHROME = Bath(faraday.metals()["Cr(VI)"], 0.2, 220.0, 3000.0)
CASES = Path(__file__).parents[2] / "reference" / "plating"


def shares_by_finite_elements(n: int, cuts: np.ndarray) -> np.ndarray:
    """Share of the cathode's current between places along it, from the near end; quadratic triangles (scikit-fem)."""
    near, far = np.array([SHORT, 0.0]), np.array([LONG, WIDTH])  # the cathode; the anode stands on x = 0
    s = np.linspace(0.0, 1.0, n + 1) ** 1.5  # finer at the near end, where the current is endless
    t = np.linspace(0.0, 1.0, n + 1)
    grid = MeshTri.init_tensor(t, s)
    u, v = grid.p
    wall = near + v[:, None] * (far - near)
    shape = MeshTri(np.stack([u * wall[:, 0], v * WIDTH]), grid.t)
    basis = Basis(shape, ElementTriP2())
    # edges keep their places in the unit square: the cathode is u = 1
    facets = {name: np.flatnonzero((np.abs(u[shape.facets] - at) < 1e-12).all(axis=0))
              for name, at in (("anode", 0.0), ("cathode", 1.0))}  # fmt: skip
    held = {name: basis.get_dofs(f).all() for name, f in facets.items()}
    x = np.zeros(basis.N)
    x[held["anode"]] = 1.0
    x = solve(*condense(asm(laplace, basis), x=x, D=np.concatenate(list(held.values()))))
    on = FacetBasis(shape, ElementTriP2(), facets=facets["cathode"])
    flux = Functional(lambda w: -dot(w["x"].grad, w.n)).elemental(on, x=on.interpolate(x))
    place = v[shape.facets[:, facets["cathode"]]].max(axis=0)
    order = np.argsort(place)
    upto = np.concatenate([[0.0], np.cumsum(flux[order])]) / flux.sum()
    return np.diff(np.interp(cuts, np.concatenate([[0.0], place[order]]), upto))


def test_the_map_against_finite_elements() -> None:
    cell = hull.hull_cell(SHORT, LONG, WIDTH)
    cuts = np.array([0.05, 0.2, 0.4, 0.6, 0.8, 0.95])
    fem = shares_by_finite_elements(64, cuts)
    nodes, weights = np.polynomial.legendre.leggauss(12)
    half = 0.5 * np.diff(cuts)
    mapped = np.array([h * float(weights @ hull.density(cell, low + h * (nodes + 1.0)))
                       for low, h in zip(cuts, half, strict=False)])  # fmt: skip
    # of the current away from both ends, whose singularity the elements only creep up to
    assert mapped / mapped.sum() == pytest.approx(fem / fem.sum(), rel=3e-3)


def test_looks_and_thickness_of_a_chromium_panel() -> None:
    p = panel(5.0, 180.0, CHROME, 101)
    assert np.all(np.diff(p.density) < 0.0)
    assert list(dict.fromkeys(p.state)) == [BURNT, COVERED, BARE]
    for edge, level in ((p.burnt_to, 3000.0), (p.bare_from, 220.0)):
        assert float(np.interp(edge, p.place, p.density)) == pytest.approx(level, rel=0.02)
    k = 50
    grown = 0.2 * (p.density[k] - 220.0) * 180.0 * 51.9961e-3 / (6.0 * 96485.33212 * 7190.0)  # Faraday by hand
    assert p.thickness[k] == pytest.approx(grown, rel=1e-6)
    assert p.thickness[-1] == 0.0
    # at half the current nothing burns, and at a trickle all of it stays bare
    assert panel(0.05, 60.0, CHROME).bare_from < 5e-3
    high = panel(0.5, 60.0, CHROME._replace(burning=1e6))
    assert high.burnt_to == 0.0


def test_the_handbook_scale_beside_the_field() -> None:
    # 63 % near the far end: tests/reference/plating, hull_cell_267ml_empirical over hull_cell_267ml_primary at x = 0.9
    scale, field = (
        json.loads((CASES / f"hull_cell_267ml_{name}.json").read_text("utf-8")) for name in ("empirical", "primary")
    )
    check = next(c for c in scale["checks"] if "i_per_current" in c["expected"])
    true = next(c for c in field["checks"] if "i_per_current" in c["expected"])
    at = 0.9
    handbook = check["expected"]["i_per_current"]["value"][check["inputs"]["x"].index(at)]
    wanted = true["expected"]["i_per_current"]["value"][true["inputs"]["x"].index(at)]
    p = panel(1.0, 60.0, CHROME, 501)
    ratio = float(np.interp(at * LENGTH, p.place, p.handbook / p.density))
    assert ratio == pytest.approx(handbook / wanted, rel=0.01)


def test_calculation_and_figure(tmp_path: Path) -> None:
    kind = find("hull-cell-panel")
    given = {"metal": "Ni", "current_A": 2, "time_min": 10, "efficiency": 0.96, "burning_A_per_dm2": 10}
    found = kind(given)
    assert found["bare_from"] == pytest.approx(found["length"]) and 0.0 < found["burnt_to"] < 20.0
    assert kind.draw is not None
    text = kind.draw(given, tmp_path / "p.svg").read_text("utf-8")
    for word in ("burnt", "covered", "true field", "5.10", "Ni, 2 A for 10 min"):
        assert word in text
    with pytest.raises(ValueError, match="places"):
        panel(1.0, 1.0, CHROME, 3)


def test_figure_by_command(tmp_path: Path) -> None:
    from click.testing import CliRunner

    from firstoff.cli.calc import command
    from firstoff.errors import InputFault

    (tmp_path / "in.json").write_text(
        '{"metal": "Cr(III)", "current_A": 5, "time_min": 4, "efficiency": 0.1, "burning_A_per_dm2": 34}', "utf-8"
    )
    done = CliRunner().invoke(
        command, ["hull-cell-panel", str(tmp_path / "in.json"), "--draw", str(tmp_path / "p.png")]
    )
    assert done.exit_code == 0 and json.loads(done.output)["burnt_to"] > 0.0
    assert (tmp_path / "p.png").read_bytes()[:4] == b"\x89PNG"
    (tmp_path / "in.json").write_text('{"A_pct": 1}', "utf-8")
    plain = CliRunner().invoke(command, ["corrosion-rating-class", str(tmp_path / "in.json"), "--draw", "x.svg"])
    assert isinstance(plain.exception, InputFault) and "hull-cell-panel" in str(plain.exception)
