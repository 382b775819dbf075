"""The folder of a target: the page, the figure, and the limits for a model sheet."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from firstoff import __version__
from firstoff.launch.account import ALWAYS
from firstoff.launch.owner import claim
from firstoff.launch.vehicle_target.account import cross_check, limits_toml, target_text
from firstoff.launch.vehicle_target.target import Target
from firstoff.launch.write import write_text
from firstoff.physics.vehicle.curves import force
from firstoff.report.ride_figure import Family, Mark, TableRow, trade_off

DRAWN = (1.0, 1.5, 2.5, 4.0)  # ratios of rebound to compression in the figure, beside the recommended one


def target_folder(sheet: Path) -> Path:
    """The folder of a target when none is named."""
    return Path(f"{sheet.stem}-target")


def write_target(found: Target, folder: Path) -> list[Path]:
    """`target.md`, `target.svg` and `limits.toml`. InputFault when the folder holds another sheet's work."""
    vehicle = found.vehicle
    claim(vehicle, folder)
    page = f"# {vehicle.name}: force table\n\n{ALWAYS}\n\n```\n{target_text(found)}\n```\n\n"
    page += "![comfort against road holding](target.svg)\n\n## Checked\n\nIn time / by statistical linearisation:\n\n"
    page += f"```\n{cross_check(found)}\n```\n\n## Assumed\n\n" + "".join(f"- {a}\n" for a in vehicle.assumed)
    page += "- The body's acceleration is weighted by Wk of ISO 2631-1 as if the person sat on it, without a seat.\n"
    page += "- Road spectra of ISO 8608 (from memory), sines of random phases, "
    page += f"seed {found.seed}; the tyre follows a point, averaged over its contact.\n\n## From\n\n"
    page += "".join(f"- {name}: sha256 {digest}\n" for name, digest in vehicle.sha256.items())
    return [
        write_text(folder / "target.md", f"{page}\nfirstoff {__version__}\n"),
        write_text(folder / "limits.toml", limits_toml(found)),
        draw_target(found, folder / "target.svg"),
    ]


def draw_target(found: Target, path: Path) -> Path:
    """The trade-off, the levels and the recommended curve."""
    shape, ratio = found.shape, found.vehicle.motion_ratio
    own = [d for d in found.driven if d.shape and (d.shape.knee, d.shape.bend) == (shape.knee, shape.bend)]
    shown = {*DRAWN, shape.ratio}
    families = [
        Family(
            f"rebound/compression {r:g}",
            np.array([d.shape.level for d in own if d.shape and d.shape.ratio == r]),
            np.array([d.comfort for d in own if d.shape and d.shape.ratio == r]),
            np.array([d.load for d in own if d.shape and d.shape.ratio == r]),
        )
        for r in sorted({d.shape.ratio for d in own if d.shape and d.shape.ratio in shown})
    ]
    lines = found.linear()
    linear = Family(
        "linear, even",
        np.array([d.shape.level for d in lines if d.shape]),
        np.array([d.comfort for d in lines]),
        np.array([d.load for d in lines]),
    )
    marks = [Mark("recommended", found.best.comfort, found.best.load, found.equivalent_level)]
    v = np.linspace(-1.0, 1.0, 201) * found.vehicle.wish.speeds[-1] * 1.05
    wish = found.vehicle.wish
    beside = np.sign(v) * wish.friction - wish.gas_force  # what the rig reads with the damping
    curves = {"recommended": force(v / ratio, found.best.speeds, found.best.forces) / ratio + beside}
    if found.against:
        marks.append(Mark(found.against_name, found.against.comfort, found.against.load, None))
        curves[found.against_name] = force(v / ratio, found.against.speeds, found.against.forces) / ratio + beside
    rows = [
        TableRow(s * r.speed, f, t)
        for r in found.table
        for s, f, t in ((1.0, r.rebound, r.rebound_tolerance), (-1.0, r.compression, r.compression_tolerance))
    ]
    sensible = tuple(sorted((found.comfort_level, found.load_level)))
    return trade_off(
        path,
        linear=linear,
        families=families,
        marks=marks,
        sensible=(sensible[0], sensible[1]),
        speeds=v,
        curves=curves,
        rows=rows,
        title=f"{found.vehicle.name}: comfort against road holding",
    )
