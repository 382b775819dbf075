"""What it takes to undo a bumper's fault itself, and what can still be done with a part that carries it.

Minutes and costs are assumed (common practice, no source); the plant sheet's `[[cure]]` outranks them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fnmatch import fnmatchcase

from firstoff.chain.fault import Cure, Fault

# by name of the fault, * for any part of it; the first that fits counts
CURES: tuple[tuple[str, Cure], ...] = (
    ("coils_mixed", Cure(60.0, 200.0, parts="rework", note="restrike the parts of the other coil by themselves")),
    ("coil_*", Cure(240.0, 2500.0, parts="rework", note="change the coil; restrike what was made, if it comes back")),
    ("lubricant_*", Cure(30.0, 20.0, note="clean and set the spray; walls that were thinned stay thin")),
    ("binder_tilted", Cure(120.0, 100.0, note="level the cushion pins")),
    ("binder_*", Cure(10.0, 0.0, by_setting=True, note="cushion pressure of the setup sheet")),
    ("radius_worn", Cure(960.0, 2500.0, note="weld and dress: a tool-room job")),
    ("blank_*", Cure(20.0, 0.0, by_setting=True, note="gauge stops; first part checked")),
    ("flange_*", Cure(90.0, 80.0, parts="rework", by_setting=True, note="shims behind the steels")),
    ("cam_*", Cure(90.0, 150.0, parts="rework", note="wrap the ends again when the cam comes home")),
    (
        "restrike_open",
        Cure(15.0, 0.0, parts="rework", by_setting=True, note="restrike again at its tonnage"),
    ),
    ("restrike_deep", Cure(15.0, 0.0, by_setting=True, note="shut height; look for marks through the face")),
    ("pierce_*", Cure(45.0, 20.0, by_setting=True, note="locators of the final pierce")),
    ("fixture_*", Cure(30.0, 0.0, parts="rework", note="clean, clamp, master part, measure again")),
    ("monitor_*", Cure(120.0, 200.0, parts="rework", note="load cells under the slide")),
    ("*", Cure()),
)


def with_cures(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """The faults, each with what its cure takes."""
    return tuple(replace(f, effort=next(cure for name, cure in CURES if fnmatchcase(f.name, name))) for f in faults)
