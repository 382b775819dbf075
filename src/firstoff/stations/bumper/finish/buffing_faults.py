"""What can go wrong at the wheels, and what can be measured of a buffed face. Frequencies, sizes, minutes and
uncertainties are assumed (common practice, no source)."""

from __future__ import annotations

from dataclasses import replace

from firstoff.chain.fault import Cure, Fault, Move, Sizes
from firstoff.chain.measurement import Measurement, Readout

WHEELS = "Spindle stopped and locked out before a wheel is touched; no gloves at a wheel that turns; extraction on."

_FAULTS = (
    (Fault("buffed_too_deep", "buffing", "buffed too hard or too long", (Move("buffing.contact", "scale"),),
           Sizes(1.35, 3.0, "log-uniform"), ("all", "one", "group"), 20.0,
           "thickness at the radii before and after; load of the spindle motors",
           "pressure and feed of the setup sheet; look for colour and thin radii on what was made", WHEELS),
     Cure(10.0, 0.0, by_setting=True, note="pressure and feed; steel that is off stays off")),
    (Fault("buffed_too_little", "buffing", "buffed too light or too fast", (Move("buffing.contact", "scale"),),
           Sizes(0.3, 0.75, "log-uniform"), ("all", "one", "group"), 20.0,
           "pressure gauge and feed at the wheels; removal by ultrasonic before and after",
           "pressure and feed of the setup sheet; buff again", WHEELS),
     Cure(10.0, 0.0, parts="rework", by_setting=True, note="pressure and feed; buff the parts again")),
    (Fault("wheel_worn", "buffing", "wheels worn small", (Move("buffing.wheel", "scale"),),
           Sizes(0.6, 0.85), ("all", "group"), 25.0, "diameter of each wheel with a tape, spindle locked out",
           "change the wheels; keep their least diameter", WHEELS),
     Cure(45.0, 120.0, parts="rework", note="new wheels; buff the parts again")),
    (Fault("wheel_contaminated", "buffing", "coarse grain on a fine wheel", (Move("buffing.grain", "scale"),),
           Sizes(1.6, 5.0, "log-uniform"), ("all", "group"), 15.0,
           "look at the face under strong light; rake the wheel over a test strip",
           "rake or change the wheel; keep compounds and wheels apart", WHEELS),
     Cure(30.0, 60.0, parts="rework", note="rake or change the wheel; buff the parts again")),
    (Fault("sheet_scratched", "buffing", "deep scratches in the pressed face", (Move("buffing.flaw", "scale"),),
           Sizes(1.6, 6.0, "log-uniform"), ("all", "one", "group"), 15.0,
           "look at pressed bars before buffing; polish of the draw die", "polish the die; clean the blanks",
           "Press locked out and the slide blocked before anybody reaches in."),
     Cure(120.0, 100.0, parts="rework", note="polish the die; buff the parts longer where steel allows it")),
)  # fmt: skip
FAULTS: tuple[Fault, ...] = tuple(replace(fault, effort=cure) for fault, cure in _FAULTS)

MEASUREMENTS: tuple[Measurement, ...] = (
    Measurement(
        "wheel_tape", "diameter of each wheel with a tape", "buffing", (Readout("buffing.wheel", 0.01),), "rig", 1,
        10.0, 1, beware=WHEELS,
    ),
    Measurement(
        "removal_ultrasonic", "thickness of three bars before and after buffing, ultrasonic", "buffing",
        (Readout("buffing_removal", 1.5e-6),), "lot", 3, 15.0,
    ),
    Measurement(
        "flaw_replica", "replica of the deepest scratch of three pressed bars, under the microscope", "buffing",
        (Readout("buffing.flaw", 5e-7),), "lot", 3, 40.0,
    ),
)  # fmt: skip
