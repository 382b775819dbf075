"""What can be measured of a bar on its brackets beside the hits.

Minutes, dangers and uncertainties are assumed (common practice, no source); a gauge of the plant sheet outranks the
uncertainty given here.
"""

from __future__ import annotations

from firstoff.chain.measurement import Measurement, Readout

CAR = "Nobody under a bar that hangs on one bracket."

MEASUREMENTS: tuple[Measurement, ...] = (
    Measurement("torque_audit", "torque audit of the frame bolts, turned a little further", "assembly",
                (Readout("audit_torque", relative=0.05),), "same", 3, 10.0, 1, beware=CAR,
                needs="a torque wrench with a dial, not the tool of the line"),
    Measurement("bolt_ultrasonic", "stretch of the frame bolts, ultrasonic, before and after they are loosened",
                "assembly", (Readout("bolt_stretch", 2e-6),), "same", 3, 30.0, 1, beware=CAR,
                needs="bolts with flat ends"),
    Measurement("shim_feeler", "feeler gauge between bar and frame at both brackets", "assembly",
                (Readout("stand_off_left", 2e-4), Readout("stand_off_right", 2e-4)), "same", 3, 8.0, 1, beware=CAR),
    Measurement("bracket_look", "look at both brackets: bolts, nuts, seams all round", "impact",
                (Readout("impact.bracket_left", 0.1), Readout("impact.bracket_right", 0.1)), "same", 3, 5.0, 1,
                beware=CAR),
    Measurement("foam_weighing", "foam blocks of the lot weighed over their volume", "impact",
                (Readout("impact.absorber_plateau", relative=0.05),), "lot", 3, 10.0,
                needs="further blocks of the lot; load at which they crush from their density"),
)  # fmt: skip
