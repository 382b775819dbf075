"""The result of choose as plain values, SI."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from firstoff.launch.valve_choice.account import assumed, miss_text, why_second
from firstoff.launch.valve_choice.choose import LaunchChoice
from firstoff.launch.valve_choice.search import Choice
from firstoff.launch.valve_choice.sheet import changed_lines


def as_dict(found: LaunchChoice) -> dict[str, Any]:
    """Counts, the ranked valves, the present one, and what would do when nothing does."""
    return {
        "bin": found.bin.name,
        "quantity": found.quantity,
        "combinations": found.combinations,
        "meet_the_table": found.meeting,
        "curves_computed": found.computed,
        "largest_difference": found.verified,
        "left_out": dict(found.dropped),
        "builds": found.builds if found.meeting else 0,
        "valves": [_choice(c, found) for c in found.choices],
        "present": _choice(found.present, found),
        "why_second_loses": why_second(found) if found.meeting else "",
        "nearest_miss": "" if found.meeting else miss_text(found),
        "would": [{**asdict(n), "does": n.does} for n in found.needs],
        "assumed": assumed(found),
    }


def _choice(c: Choice, found: LaunchChoice) -> dict[str, Any]:
    trial = None
    if c.trial is not None:
        trial = {
            "outside": asdict(c.trial.outside), "rejects": dict(c.trial.rejects), "mean": dict(c.trial.mean),
            "sd": dict(c.trial.sd), "room_sd": c.trial.room, "nearest": c.trial.nearest,
        }  # fmt: skip
    return {
        "parts": [{"part": p.number, "kind": p.kind, "pieces": n, "place": where} for p, n, where in c.parts],
        "set_up": list(c.set_up),
        "use_rebound": c.use[0],
        "use_compression": c.use[1],
        "nominal": dict(c.nominal),
        "cost": c.cost if c.parts else None,
        "new_parts": list(c.new),
        "one_off": c.one_off,
        "short": dict(c.short),
        "trial": trial,
        "lines": [asdict(line) for line in changed_lines(found, c)] if c.stated else [],
    }
