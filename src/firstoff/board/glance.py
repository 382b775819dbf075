"""Good or bad at a glance: what the readings of a launch say, and at which stations."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from firstoff.board.launches import Judged
from firstoff.board.texts import text
from firstoff.launch.account import named
from firstoff.launch.plan import LaunchPlan
from firstoff.launch.setup_pages import operations

LIKELY = 0.1  # probability from which on a cause is said at its station


@dataclass(frozen=True)
class Cause:
    """A likely cause of the readings of a lot."""

    title: str
    stations: tuple[str, ...]
    p: str
    lot: str


def likely_causes(explained: Mapping[str, Any] | None) -> list[Cause]:
    """The likely causes of a stored explanation, each with the stations in which it lies."""
    return [
        Cause(cause["title"], tuple(cause["stations"]), cause["p_text"], lot["lot"])
        for lot in (explained or {}).get("lots", [])
        for cause in lot["causes"]
        if cause["probability"] >= LIKELY and cause["probability"] > lot["none"]
    ]


def said_of(station: str, verdicts: Sequence[str], causes: Sequence[Cause], out: bool) -> list[tuple[str, str]]:
    """What is said beside a station's name, each with its kind (bad, open, good).

    verdicts: on what comes out of it, one a lot and characteristic; out: something is outside its limits as set.
    """
    found = [("bad", text("route.here", title=c.title, p=c.p)) for c in causes if station in c.stations]
    if out:
        found.append(("bad", text("route.nominal_out")))
    if bad := verdicts.count("does not conform"):
        found.append(("bad", text("route.read_bad", n=bad, all=len(verdicts))))
    elif "not proven" in verdicts:
        found.append(("open", text("route.read_open", n=verdicts.count("not proven"), all=len(verdicts))))
    elif verdicts:
        found.append(("good", text("route.read_good")))
    return found


def summary(plan: LaunchPlan, judged: Judged, causes: Sequence[Cause], explained: bool) -> dict[str, Any] | None:
    """What the readings say of the part, and where it is made so; None before there are readings."""
    if judged.proof is None:
        return None
    known, verdicts = judged.proof.characteristics, judged.proof.judgement.lots
    lots = dict.fromkeys(v.lot for v in verdicts)
    bad = [
        {"lot": lot if len(lots) > 1 else "",
         "names": [(v.characteristic, named(known[v.characteristic])) for v in verdicts
                   if v.lot == lot and v.verdict == "does not conform"]}
        for lot in lots
    ]  # fmt: skip
    unproven = dict.fromkeys(v.characteristic for v in verdicts if v.verdict == "not proven")
    titles = {s.name: (label, s.title, s.name) for label, _, s in operations(plan)}
    found = [{"title": c.title, "p": c.p, "at": [titles[s] for s in c.stations if s in titles]} for c in causes]
    return {"bad": [each for each in bad if each["names"]], "causes": found, "unexplained": not explained,
            "open": [(name, named(known[name])) for name in unproven]}  # fmt: skip
