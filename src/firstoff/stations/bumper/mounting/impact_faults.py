"""What can go wrong with a bar on its brackets and at the impact rig. Frequencies and sizes are assumed (common
practice, no source)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from firstoff.chain.fault import Cure, Fault, Move, Sizes

RIG = "Impact rig: pendulum lowered and latched, nobody in its danger zone, before the bar is touched."
CAR = "The bar is heavy: lifting aid; nobody under a bar that hangs on one bracket."
WELD = "Welding over old chrome or paint gives off poisonous fumes: strip it first, extraction, mask."


def _of_sides() -> Iterator[tuple[Fault, Cure]]:
    for side in ("left", "right"):
        yield (
            Fault(f"bracket_missing_{side}", "assembly", f"{side} bracket not bolted to the frame",
                  (Move(f"impact.bracket_{side}", "set"),), Sizes(0.0, 0.0), ("all", "one"), 4.0,
                  "look: bracket, bolts and nuts at both rails",
                  "bolt the bracket; count the bolts at the torque tool", CAR),
            Cure(20.0, 0.0, parts="rework", note="bolt it; the bar that was hit is scrap"),
        )  # fmt: skip
        yield (
            Fault(f"weld_missed_{side}", "assembly", f"weld of the {side} bracket missed in part",
                  (Move(f"impact.bracket_{side}", "scale"),), Sizes(0.25, 0.75), ("all", "one"), 4.0,
                  "look at the seam; dye penetrant; width of the bracket's mouth before and after",
                  "weld it again by the welding sheet; look at the seams of the lot", WELD),
            Cure(40.0, 0.0, parts="rework", note="weld again; the bar that was hit is scrap"),
        )  # fmt: skip


HITS: tuple[tuple[Fault, Cure], ...] = (
    *_of_sides(),
    (Fault("foam_light", "impact", "foam of the absorber too light", (Move("impact.absorber_plateau", "scale"),),
           Sizes(0.4, 0.85, "log-uniform"), ("all", "one", "group"), 6.0, "weigh the foam block over its volume",
           "another lot of foam; density on its delivery note", CAR),
     Cure(30.0, 0.0, parts="rework", note="another foam block")),
    (Fault("foam_heavy", "impact", "foam of the absorber too heavy", (Move("impact.absorber_plateau", "scale"),),
           Sizes(1.18, 2.5, "log-uniform"), ("all", "one", "group"), 6.0, "weigh the foam block over its volume",
           "another lot of foam; density on its delivery note", CAR),
     Cure(30.0, 0.0, parts="rework", note="another foam block")),
    (Fault("load_cell_low", "impact", "load cell of the rig reads low", (Move("peak_force_*", "scale"),),
           Sizes(0.75, 0.95, "log-uniform"), ("all",), 6.0, "dead weight or reference cell in line; the striker's "
           "deceleration times its mass", "calibrate the cell", RIG, "readings"),
     Cure(60.0, 0.0, parts="rework", note="calibrate; hit another bar")),
    (Fault("load_cell_high", "impact", "load cell of the rig reads high", (Move("peak_force_*", "scale"),),
           Sizes(1.05, 1.33, "log-uniform"), ("all",), 6.0, "dead weight or reference cell in line; the striker's "
           "deceleration times its mass", "calibrate the cell", RIG, "readings"),
     Cure(60.0, 0.0, parts="rework", note="calibrate; hit another bar")),
)  # fmt: skip
BOLTED: tuple[tuple[Fault, Cure], ...] = (
    (Fault("bolts_loose", "assembly", "frame bolts under torque", (Move("assembly.torque", "scale"),),
           Sizes(0.15, 0.7, "log-uniform"), ("all", "one", "group"), 15.0,
           "torque on of the frame bolts; witness marks of slip behind the bracket",
           "torque of the setup sheet; the tool's transducer", CAR),
     Cure(20.0, 0.0, parts="rework", by_setting=True, note="loosen, set again to the torque")),
    *((Fault(f"shim_wrong_{side}", "assembly", f"{side} bracket shimmed wrong", (Move(f"assembly.shim_{side}", "add"),),
             Sizes(1.5e-3, 6e-3, "log-uniform", both_signs=True), ("all", "one"), 5.0,
             "gap between bar and frame at both brackets", "shims of the setup sheet", CAR),
       Cure(15.0, 0.0, parts="rework", by_setting=True, note="shim again")) for side in ("left", "right")),
)  # fmt: skip
FAULTS: tuple[Fault, ...] = tuple(replace(fault, effort=cure) for fault, cure in HITS)  # only a hit shows them
BOLTED_FAULTS: tuple[Fault, ...] = tuple(replace(fault, effort=cure) for fault, cure in BOLTED)
