"""What can go wrong with paint, and what can be measured of it. Frequencies, sizes, minutes and uncertainties are
assumed (common practice, no source)."""

from __future__ import annotations

from dataclasses import replace

from firstoff.chain.fault import Cure, Fault, Move, Sizes
from firstoff.chain.measurement import Measurement, Readout

BOOTH = "Guns off and earthed, ventilation on, no spark: solvent vapour and powder clouds explode."
OVEN = "Oven off and cooled, purged again before it is lit; hot parts."

_FAULTS = (
    (Fault("earth_lost", "paint", "bar not earthed: coated hook", (Move("paint.earth_resistance", "scale"),),
           Sizes(300.0, 3e4, "log-uniform"), ("all", "one", "group"), 25.0,
           "megohm meter from bar to earth on the hook in use, guns off", "strip the hooks; earth the conveyor", BOOTH),
     Cure(30.0, 20.0, parts="rework", note="strip the hooks; paint again where the film allows it")),
    (Fault("paint_flow_high", "paint", "too much paint", (Move("paint.flow", "scale"),), Sizes(1.2, 1.8, "log-uniform"),
           ("all",), 15.0, "paint caught in a beaker for a minute, guns not charged",
           "supply pressure of the setup sheet",
           BOOTH),
     Cure(10.0, 0.0, parts="rework", by_setting=True, note="paint pressure or bell supply")),
    (Fault("paint_flow_low", "paint", "too little paint: filter or nozzle", (Move("paint.flow", "scale"),),
           Sizes(0.5, 0.85, "log-uniform"), ("all",), 20.0, "paint caught in a beaker for a minute, guns not charged",
           "clean filter and nozzles", BOOTH),
     Cure(20.0, 5.0, parts="rework", note="clean filter and nozzles; paint again")),
    (Fault("oven_cold", "paint", "oven colder than it shows", (Move("paint.oven_temperature", "add"),),
           Sizes(-45.0, -10.0, "log-uniform"), ("all", "group"), 15.0, "logger through the oven on a bar",
           "burner, fans and probe of the oven", OVEN),
     Cure(60.0, 0.0, parts="rework", note="bake the parts again")),
    (Fault("oven_fan_out", "paint", "oven fan out", (Move("paint.heat_transfer", "scale"),),
           Sizes(0.3, 0.65, "log-uniform"), ("all", "group"), 8.0, "fan current; logger through the oven on a bar",
           "fan and belts", OVEN),
     Cure(120.0, 150.0, parts="rework", note="fan; bake the parts again")),
)  # fmt: skip
FAULTS: tuple[Fault, ...] = tuple(replace(fault, effort=cure) for fault, cure in _FAULTS)

MEASUREMENTS: tuple[Measurement, ...] = (
    Measurement("megohm_meter", "resistance from bar to earth on three hooks", "paint",
                (Readout("paint.earth_resistance", relative=0.05),), "lot", 3, 10.0, 1, beware=BOOTH),
    Measurement("beaker", "paint caught for a minute", "paint", (Readout("paint.flow", relative=0.01),), "rig", 1, 15.0,
                1, beware=BOOTH),
    Measurement("oven_logger", "logger on a bar through the oven", "paint",
                (Readout("metal_peak", 1.0), Readout("time_at_temperature", 10.0)), "lot", 1, 60.0, 1, beware=OVEN),
)  # fmt: skip
