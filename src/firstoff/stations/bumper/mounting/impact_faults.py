"""What can go wrong with a bar on its brackets and at the impact rig. Frequencies and sizes are assumed (common
practice, no source)."""

from __future__ import annotations

from dataclasses import replace

from firstoff.chain.fault import Cure, Fault, Move, Sizes

RIG = "Impact rig: pendulum lowered and latched, nobody in its danger zone, before the bar is touched."
CAR = "The bar is heavy: lifting aid; nobody under a bar that hangs on one bracket."

_FAULTS = (
    (Fault("bolts_loose", "assembly", "frame bolts under torque", (Move("assembly.torque", "scale"),),
           Sizes(0.15, 0.7, "log-uniform"), ("all", "one", "group"), 15.0,
           "torque on of the frame bolts; witness marks of slip behind the bracket",
           "torque of the setup sheet; the tool's transducer", CAR),
     Cure(20.0, 0.0, parts="rework", by_setting=True, note="loosen, set again to the torque")),
    (Fault("bracket_missing_left", "impact", "left bracket not bolted to the frame",
           (Move("impact.bracket_left", "set"),), Sizes(0.0, 0.0), ("all", "one"), 4.0,
           "look: bracket, bolts and nuts at both rails",
           "bolt the bracket; count the bolts at the torque tool", CAR),
     Cure(20.0, 0.0, parts="rework", note="bolt it; the bar that was hit is scrap")),
    (Fault("bracket_missing_right", "impact", "right bracket not bolted to the frame",
           (Move("impact.bracket_right", "set"),), Sizes(0.0, 0.0), ("all", "one"), 4.0,
           "look: bracket, bolts and nuts at both rails", "bolt the bracket; count the bolts at the torque tool", CAR),
     Cure(20.0, 0.0, parts="rework", note="bolt it; the bar that was hit is scrap")),
    (Fault("shim_wrong", "assembly", "bracket shimmed wrong", (Move("assembly.shim_left", "add"),),
           Sizes(1.5e-3, 6e-3, "log-uniform", both_signs=True), ("all", "one"), 10.0,
           "gap between bar and frame at both brackets", "shims of the setup sheet", CAR),
     Cure(15.0, 0.0, parts="rework", by_setting=True, note="shim again")),
    (Fault("load_cell_low", "impact", "load cell of the rig reads low", (Move("peak_force_*", "scale"),),
           Sizes(0.75, 0.95, "log-uniform"), ("all",), 6.0, "dead weight or reference cell in line",
           "calibrate the cell", RIG, "readings"),
     Cure(60.0, 0.0, parts="rework", note="calibrate; hit another bar")),
    (Fault("load_cell_high", "impact", "load cell of the rig reads high", (Move("peak_force_*", "scale"),),
           Sizes(1.05, 1.33, "log-uniform"), ("all",), 6.0, "dead weight or reference cell in line",
           "calibrate the cell", RIG, "readings"),
     Cure(60.0, 0.0, parts="rework", note="calibrate; hit another bar")),
)  # fmt: skip
FAULTS: tuple[Fault, ...] = tuple(replace(fault, effort=cure) for fault, cure in _FAULTS)
