"""Where rack, anodes and shields had better hang in a launch's nickel tank."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from firstoff.errors import InputFault, Message
from firstoff.launch.plan import LaunchPlan
from firstoff.report.tables import number, table, wrap
from firstoff.stations.bumper.finish.placing import Goal, Places, Spread, placed
from firstoff.stations.bumper.finish.plating_common import field_in

WORDS = {"rack_along": "rack along the tank, to the right", "rack_towards": "rack towards the front anodes",
         "anode_shift": "front anodes away from the rack", "shield_shift": "shields outwards"}  # fmt: skip


def place(plan: LaunchPlan, goal: Goal = "charge", fine: bool = True) -> Places:
    """The best places of this launch's rack, front anodes and shields. InputFault where no tank is drawn."""
    nickel, drawing = plan.plans.get("nickel"), plan.job.settings.drawing
    field = field_in(nickel) if nickel is not None else None
    if nickel is None or field is None:
        what = "cannot be placed: the sheets draw no tank"
        allowed = "[[plating_point]] in the model sheet; [tank], [rack] and [[anode]] in the plant sheet"
        raise InputFault([Message(what, str(plan.job.file), key="tank", allowed=allowed)])
    at = {v.name: v.nominal for v in nickel.values}
    kappa, density = at["nickel.conductivity_semi"], at["nickel.density_semi"]
    return placed(drawing, field, plan.nominal["sheet_thickness"], density, kappa, goal, fine)


def places_dict(found: Places) -> dict[str, Any]:
    """The `places` of `firstoff plan --json`; metres, current densities over the rack's mean."""
    spreads = {name: {**asdict(s), "ratio": s.ratio} for name, s in
               (("before", found.before), ("after", found.after), ("solved_before", found.solved_before),
                ("solved_after", found.solved_after))}  # fmt: skip
    return {"goal": found.goal, "moves": found.moves, "bounds": {k: list(v) for k, v in found.bounds.items()},
    **spreads,
            "charge": found.charge, "tried": found.tried}  # fmt: skip


def places_text(found: Places) -> str:
    """The same for people."""
    aim = {"charge": "least current × time for the least thickness", "evenness": "most to least as near as can be"}
    rows = [f"PLACES  {aim[found.goal]}; {found.tried} layouts tried on the reduced field", ""]
    room = {name: f"{1e3 * low:.0f} to {1e3 * high:.0f} mm" for name, (low, high) in found.bounds.items()}
    cells = [(WORDS[n], f"{1e3 * x:+.0f} mm", room[n], f"anodes.{n}") for n, x in found.moves.items()]
    rows += [table(("move", "by", "room", "setting"), cells, width=118), ""]
    heads = ("current density over the rack's mean", "least", "most", "most : least")
    kinds = (("as drawn, reduced field", found.before), ("as drawn, solved in full", found.solved_before),
             ("moved, reduced field", found.after), ("moved, solved in full", found.solved_after))  # fmt: skip
    rows += [table(heads, [_spread(name, s) for name, s in kinds], width=118), ""]
    saved = 1.0 - found.charge
    said = f"{100.0 * abs(saved):.1f} % {'less' if saved > 0 else 'more'} current × time for the same least thickness"
    rows += wrap(f"Solved in full: {said}. Hang it so, plate one rack, read the points: the field knows no leads, no "
    f"rack "
                 "resistance and no agitation.", 118)  # fmt: skip
    return "\n".join(rows)


def _spread(name: str, s: Spread) -> tuple[str, ...]:
    return (name, number(s.worst, 3), number(s.best, 3), number(s.ratio, 3))
