"""What a target says: the table and its reasons, for people and for a model sheet."""

from __future__ import annotations

from firstoff.errors import counted
from firstoff.launch.account import ALWAYS
from firstoff.launch.vehicle_target.search import STRAIGHT, Driven
from firstoff.launch.vehicle_target.target import Target
from firstoff.report.tables import number, table
from firstoff.sheets.units import format_value

FLAT = 0.01  # of the index: curves that no driver could tell apart
NOT_SEEN = (
    "One wheel on one mass: roll, pitch and warp of the body, load transfer in braking and cornering, mounts and "
    "friction, the seat and a wheel that envelops an edge are not in it. A road test with the customer settles the "
    "table."
)


def target_text(found: Target) -> str:
    """The recommended table, what it does on the sheet's roads and bumps, and why."""
    vehicle = found.vehicle
    lines = [f"TARGET  {vehicle.name}", "", _table(found), "", _roads(found)]
    if vehicle.bumps:
        lines += ["", _bumps(found)]
    lines += ["", "Why:", *(f"  {reason}" for reason in reasons(found))]
    lines += [f"WARNING  {m.key}: {m.what}." for m in found.warnings]
    lines += ["", NOT_SEEN, ALWAYS]
    return "\n".join(lines)


def _table(found: Target) -> str:
    rows = [
        (f"{r.speed:g}", f"{r.rebound:g} ±{r.rebound_tolerance:g}", f"{r.compression:g} ±{r.compression_tolerance:g}")
        for r in found.table
    ]
    return table(("damper speed [m/s]", "rebound [N]", "compression [N]"), rows, width=110)


def _each(found: Target) -> list[tuple[str, Driven]]:
    against = [(found.against_name, found.against)] if found.against else []
    return [("recommended", found.best), *against]


def _roads(found: Target) -> str:
    rows = []
    for i, road in enumerate(found.vehicle.drives):
        for name, driven in _each(found):
            r = driven.roads[i]
            used = f"{1e3 * r.compressed:.0f} in, {1e3 * r.extended:.0f} out"
            rows.append((
                road.name, name, number(r.comfort, 3), number(r.load_coefficient, 3), _share(r.off_ground), used,
                number(1e3 * r.ride_height, 2), _share(r.in_bump_stop),
            ))  # fmt: skip
    heads = ("road", "curve", "comfort [m/s²]", "load coefficient", "off the ground", "travel [mm]",
             "ride height [mm]", "in the bump stop")  # fmt: skip
    return table(heads, rows, width=150)


def _bumps(found: Target) -> str:
    rows = []
    for i, bump in enumerate(found.vehicle.bumps):
        for name, driven in _each(found):
            b = driven.bumps[i]
            end = "used up" if b.bottomed else f"{number(100 * b.compressed / found.vehicle.car.bump_travel, 3)} %"
            rows.append((bump.name, name, number(b.comfort, 3), number(b.peak_acceleration, 3),
                         number(b.least_load, 2), end))  # fmt: skip
    heads = ("bump", "curve", "worst second [m/s²]", "peak [m/s²]", "least load / at rest", "bump travel used")
    return table(heads, rows, width=140)


def _share(x: float) -> str:
    return f"{number(100.0 * x, 2)} %"


def reasons(found: Target) -> list[str]:
    """Why this level, this ratio, this knee: each with the figures beside it."""
    return [*_level(found), *_ratio(found), *_knee(found), *_flat(found)]


def _level(found: Target) -> list[str]:
    shape, wish = found.shape, found.vehicle.wish
    low, high = sorted((found.comfort_level, found.load_level))
    text = (
        f"Level {shape.level:g} of critical at low speed. A linear damper is most comfortable on these roads at "
        f"{found.comfort_level:g} and holds the road best at {found.load_level:g}: below {low:g} and above {high:g} "
        f"both get worse; this curve damps on them as a linear one of {found.equivalent_level:.2g}. Comfort counts "
        f"{100 * wish.comfort_share:.0f} %, holding the road the rest."
    )
    if shape.level == wish.least_level:
        text += f" It stands at least_level, {wish.least_level:g}, which the sheet asks for the sake of roll and pitch."
    return [text]


def _ratio(found: Target) -> list[str]:
    shape, best = found.shape, found.best
    even = found.beside(ratio=1.0)
    text = f"Rebound {shape.ratio:g} times compression."
    if shape.ratio == found.vehicle.wish.least_ratio and shape.ratio > 1.0:
        text += " It stands at least_ratio, which the sheet asks for."
    if even is None or shape.ratio == 1.0:
        return [text + " More in rebound than in compression brings nothing that is asked for here."]
    text += (
        f" With as much in both, comfort would be {number(even.comfort, 3)} instead of {number(best.comfort, 3)} m/s² "
        f"and the load coefficient {number(even.load, 3)} instead of {number(best.load, 3)}: the roads hardly care."
    )
    if found.vehicle.bumps and even.bump_comfort > 1.01 * best.bump_comfort:
        text += (
            f" Over the bumps the worst second would be {number(even.bump_comfort, 3)} instead of "
            f"{number(best.bump_comfort, 3)} m/s²."
        )
    elif found.vehicle.bumps:
        text += " Nor do the bumps."
    text += f" Its price: the body is pulled down by up to {format_value(best.drop, 'mm', 2)}"
    return [f"{text} (at most {format_value(found.vehicle.wish.drop, 'mm', 2)} is allowed)."]


def _knee(found: Target) -> list[str]:
    shape, best, ratio = found.shape, found.best, found.vehicle.motion_ratio
    if shape.bend == STRAIGHT:
        return ["Straight: a knee brings nothing on these roads and bumps."]
    on_roads = [ratio * r.damper_speed for r in best.roads]
    text = (
        f"Knee at {shape.knee * ratio:.2g} m/s, {100 * shape.bend:.0f} % of the slope left beyond. The damper moves at "
        f"{' and '.join(number(v, 2) for v in on_roads)} m/s rms on the roads"
    )
    text += ", mostly below the knee." if max(on_roads) < shape.knee * ratio else ", on both sides of the knee."
    if found.vehicle.bumps:
        like = min(found.linear(), key=lambda d: abs(d.comfort - best.comfort))
        level = like.shape.level if like.shape else 0.0
        text += (
            f" Of the straight, even dampers that of level {level:g} comes nearest to its comfort on the roads; in the "
            f"worst second of the bumps it has {number(like.bump_comfort, 3)} instead of "
            f"{number(best.bump_comfort, 3)} m/s²."
        )
    return [text]


def _flat(found: Target) -> list[str]:
    least = found.index(found.best)
    near = [d for d in found.driven if d.shape and d is not found.best and found.index(d) <= least * (1.0 + FLAT)]
    if not near:
        return []
    ratios = [d.shape.ratio for d in (*near, found.best) if d.shape]
    levels = [d.shape.level for d in (*near, found.best) if d.shape]
    return [
        f"The optimum is flat: {counted(len(near), 'other curve')} of the {len(found.driven)} tried come within "
        f"{100 * FLAT:g} % of it, with levels from {min(levels):g} to {max(levels):g} and ratios from {min(ratios):g} "
        f"to {max(ratios):g}."
    ]


def limits_toml(found: Target) -> str:
    """The table as lines for a model sheet."""
    wish = found.vehicle.wish
    held = f"{wish.friction:g} N of friction and {wish.gas_force:g} N of gas force"
    lines = [
        f"# Recommended for {found.vehicle.name}; from {found.vehicle.file.name} by `firstoff target`.",
        f"# A proposal to agree with the customer: steady force, warm, as the rig reads it: with {held}.",
        "# Tolerances are assumed (common practice, no source) unless the vehicle sheet states them.",
    ]
    for r in found.table:
        lines += [
            "",
            "[[damping]]",
            f'speed = "{r.speed:g} m/s"',
            f'rebound = "{r.rebound:g} ±{r.rebound_tolerance:g} N"',
            f'compression = "{r.compression:g} ±{r.compression_tolerance:g} N"',
        ]
    return "\n".join(lines) + "\n"


def cross_check(found: Target) -> str:
    """The recommended curve in time beside its statistical linearisation."""
    rows = []
    for drive, ride, line in zip(found.vehicle.drives, found.best.roads, found.linearised, strict=True):
        rows.append((
            drive.name, number(line.damping, 4), f"{number(ride.comfort, 4)} / {number(line.comfort, 4)}",
            f"{number(ride.load_coefficient, 4)} / {number(line.load_coefficient, 4)}",
            f"{number(1e3 * ride.ride_height, 3)} / {number(1e3 * line.ride_height, 3)}",
        ))  # fmt: skip
    heads = ("road", "equivalent damping [N s/m]", "comfort [m/s²]", "load coefficient", "ride height [mm]")
    return table(heads, rows, width=120)
