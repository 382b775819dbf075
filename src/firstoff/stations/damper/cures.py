"""What it takes to undo a damper's fault itself, and what can still be done with a part that carries it.

Minutes and costs are assumed (common practice, no source); the plant sheet's `[[cure]]` outranks them. A closed damper
is a pressure vessel with its valves inside: what sits in it can hardly be reworked.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fnmatch import fnmatchcase

from firstoff.chain.fault import Cure, Fault

# by name of the fault, * for any part of it; the first that fits counts
CURES: tuple[tuple[str, Cure], ...] = (
    ("*_relief_*", Cure(480.0, 600.0, note="wait for springs of another lot; the spring check is the gate")),
    ("*_wrong_spring_*", Cure(90.0, 150.0, note="clear the feeder; count what was built in")),
    ("*_bleed_*", Cure(60.0, 50.0, note="presence check of the stack before the next part")),
    ("*_disc_*", Cure(60.0, 50.0, note="presence check of the stack before the next part")),
    ("crimp_*", Cure(10.0, 0.0, by_setting=True, note="crimp height of the next five parts")),
    ("piston_check_leak", Cure(480.0, 1500.0, note="new pistons, or lap the seats")),
    ("intake_leak", Cure(240.0, 500.0, note="new discs or seats")),
    ("intake_sticks", Cure(240.0, 500.0, note="wash, deburr, look at the guide")),
    ("guide_*", Cure(180.0, 300.0, note="closing press; friction at two places of the next five")),
    ("*_chip", Cure(60.0, 0.0, note="wash; look for where the chip comes from")),
    ("no_gas", Cure(60.0, 0.0, parts="rework", note="charge again; look for the leak")),
    ("gas_low", Cure(30.0, 0.0, parts="rework", note="charge again; check supply and time")),
    ("oil_aerated", Cure(120.0, 0.0, parts="rework", note="let it rest, cycle, test again")),
    ("oil_*", Cure(240.0, 400.0, note="drain, flush and refill the station")),
    ("damper_*", Cure(30.0, 0.0, parts="rework", note="wait for the test temperature")),
    ("friction_*", Cure(180.0, 300.0, note="new guides or seals; closing press")),
    ("cell_zero", Cure(10.0, 0.0, parts="rework", note="zero unclamped, then the master part")),
    ("cell_*", Cure(120.0, 200.0, parts="rework", note="calibrate, then the master part")),
    ("speed_*", Cure(120.0, 200.0, parts="rework", note="correct the drive, then count strokes")),
    ("*", Cure()),
)


def with_cures(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """The faults, each with what its cure takes."""
    return tuple(replace(f, effort=next(cure for name, cure in CURES if fnmatchcase(f.name, name))) for f in faults)
