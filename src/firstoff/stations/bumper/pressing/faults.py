"""What can go wrong with a pressed bumper, station by station.

Frequencies and sizes are assumed (common practice, no source). Sizes are relative where the part's own measure sets the
scale, so that the same list serves another bumper.
"""

from __future__ import annotations

from firstoff.chain.fault import Fault, Move, Sizes

PRESS = "Press: lock out and block the slide before shimming or reaching in; try out by inching, nobody in the die."
COIL = "Coil: banding springs when cut; edges cut; chocks and lifting gear for its mass."
FIXTURE = "Fixture: clamps pinch; close them by the order on the plate."
LINKS = "Press: the strain links are reached only with the press locked out."

NOT_SEEN = (
    "split or neck that is not yet through: look along the die radius of each wall, dye penetrant where in doubt",
    "scratch, dent, slug mark: the face is judged by eye under the lamp, no reading shows it",
    "blank turned in the die: it moves left against right, and this model takes both halves for alike",
)


def _strength(*parameters: str) -> tuple[Move, ...]:
    return tuple(Move(f"coil.{p}", "scale") for p in parameters)


_STRENGTH = _strength("proof_stress", "tensile_strength")
_MIXED = (*_STRENGTH, Move("coil.thickness", "scale"))
_TEST = "hardness or tensile test of three strips of this coil; heat number against the certificate"
_SWAP = "coil of the certificate; quarantine what is left, sort what was made of it"
_GAUGE = "thickness of the strip at both edges and the middle"
_COIL: tuple[Fault, ...] = (
    Fault(
        "coil_soft",
        "coil",
        "coil too soft",
        _STRENGTH,
        Sizes(0.80, 0.93, "log-uniform"),
        ("all",),
        12.0,
        _TEST,
        _SWAP,
        COIL,
    ),
    Fault(
        "coil_hard",
        "coil",
        "coil too hard",
        _STRENGTH,
        Sizes(1.07, 1.30, "log-uniform"),
        ("all",),
        15.0,
        _TEST,
        _SWAP,
        COIL,
    ),
    Fault(
        "coil_thin",
        "coil",
        "coil too thin",
        (Move("coil.thickness", "scale"),),
        Sizes(0.90, 0.97, "log-uniform"),
        ("all",),
        8.0,
        _GAUGE,
        _SWAP,
        COIL,
    ),
    Fault(
        "coil_thick",
        "coil",
        "coil too thick",
        (Move("coil.thickness", "scale"),),
        Sizes(1.03, 1.10, "log-uniform"),
        ("all",),
        8.0,
        _GAUGE,
        _SWAP,
        COIL,
    ),
    Fault(
        "coils_mixed",
        "coil",
        "coils mixed: some parts of a harder, thicker coil",
        _MIXED,
        Sizes(1.03, 1.15, "log-uniform"),
        ("group", "one"),
        8.0,
        "heat numbers of the parts; hardness of one part of each group",
        "sort the parts by coil; one coil at a time",
        COIL,
    ),
)


_BINDER = (Move("draw.binder_force", "scale"),)
_FORMING: tuple[Fault, ...] = (
    Fault(
        "lubricant_dry",
        "draw",
        "lubricant dry",
        (Move("draw.friction", "scale"),),
        Sizes(1.25, 2.2, "log-uniform"),
        ("all", "group"),
        20.0,
        "oil film on the next blank, wiped and weighed; spray nozzles and level",
        "clean the nozzles, set the dose; wipe the die",
        PRESS,
    ),
    Fault(
        "binder_high",
        "draw",
        "binder force too high",
        _BINDER,
        Sizes(1.2, 1.9, "log-uniform"),
        ("all",),
        10.0,
        "cushion pressure on the gauge, against the setup sheet",
        "set the cushion pressure",
        PRESS,
    ),
    Fault(
        "binder_low",
        "draw",
        "binder force too low",
        _BINDER,
        Sizes(0.4, 0.8, "log-uniform"),
        ("all",),
        12.0,
        "cushion pressure on the gauge, against the setup sheet",
        "set the cushion pressure",
        PRESS,
    ),
    Fault(
        "binder_tilted",
        "draw",
        "binder tilted: one side holds more",
        (Move("draw.binder_tilt", "add"),),
        Sizes(0.06, 0.25, both_signs=True),
        ("all",),
        6.0,
        "blued blank under the binder: width of the print",
        "level the cushion pins; shim the binder",
        PRESS,
    ),
    Fault(
        "radius_worn",
        "draw",
        "die radius worn",
        (Move("draw.die_radius", "scale"),),
        Sizes(1.15, 1.8, "log-uniform"),
        ("all",),
        6.0,
        "radius gauge on the die, at the middle and both ends",
        "weld and dress the radius",
        PRESS,
    ),
    Fault(
        "blank_misplaced",
        "blanking",
        "blank misplaced in the die",
        (Move("blanking.offset", "add"),),
        Sizes(1.2e-3, 5e-3, "log-uniform", both_signs=True),
        ("all", "group"),
        15.0,
        "gauge stops of the first forming die; width of both binder prints",
        "set the gauge stops",
        PRESS,
    ),
)


_LATER: tuple[Fault, ...] = (
    Fault(
        "flange_shim",
        "flange",
        "flange steels out of place",
        (Move("flange.over_bend", "add"),),
        Sizes(0.0105, 0.06, "log-uniform", both_signs=True),
        ("all",),
        8.0,
        "feeler gauge behind the flange steels",
        "shims of the setup sheet",
        PRESS,
    ),
    Fault(
        "cam_late",
        "cam_flange",
        "cam does not come home",
        (Move("cam_flange.over_bend", "add"),),
        Sizes(-0.16, -0.03, "log-uniform"),
        ("all", "group"),
        8.0,
        "print of a blued part in the cam's land",
        "cam return, cylinder pressure, dirt behind the cam",
        PRESS,
    ),
    Fault(
        "restrike_open",
        "restrike",
        "restrike not bottomed",
        (Move("restrike.shut_depth", "add"),),
        Sizes(-2.0e-3, -0.35e-3, "log-uniform"),
        ("all", "group"),
        20.0,
        "tonnage of the hit; depth of the bead print",
        "set the shut height by the tonnage",
        PRESS,
    ),
    Fault(
        "restrike_deep",
        "restrike",
        "restrike set too deep",
        (Move("restrike.shut_depth", "add"),),
        Sizes(0.35e-3, 1.2e-3, "log-uniform"),
        ("all",),
        6.0,
        "tonnage of the hit; depth of the bead print, marks on the face",
        "set the shut height by the tonnage",
        PRESS,
    ),
    Fault(
        "pierce_offset",
        "final_pierce",
        "locators of the final pierce out of place",
        (Move("final_pierce.offset", "add"),),
        Sizes(0.8e-3, 3e-3, "log-uniform", both_signs=True),
        ("all",),
        8.0,
        "locators and their shims; slug from the die against the hole",
        "set the locators",
        PRESS,
    ),
)


_GAPS = (Move("gap_*", "add"),)
_GAUGES: tuple[Fault, ...] = (
    Fault(
        "fixture_clamp",
        "checking_fixture",
        "fixture: part not clamped down on its rests",
        _GAPS,
        Sizes(0.4e-3, 3e-3, "log-uniform"),
        ("all", "one"),
        12.0,
        "feeler gauge between face and rests with the clamps closed",
        "clean the rests, close the clamps, measure again",
        FIXTURE,
        "readings",
    ),
    Fault(
        "fixture_zero",
        "checking_fixture",
        "fixture: rests worn or feeler of another size",
        _GAPS,
        Sizes(-2.5e-3, -0.4e-3, "log-uniform"),
        ("all",),
        6.0,
        "master part in the fixture",
        "calibrate the fixture with its master part",
        FIXTURE,
        "readings",
    ),
    Fault(
        "monitor_low",
        "press_monitor",
        "press monitor reads low",
        (Move("tonnage_*", "scale"),),
        Sizes(0.75, 0.95, "log-uniform"),
        ("all",),
        6.0,
        "load cells under the slide",
        "calibrate the monitor",
        LINKS,
        "readings",
    ),
    Fault(
        "monitor_high",
        "press_monitor",
        "press monitor reads high",
        (Move("tonnage_*", "scale"),),
        Sizes(1.05, 1.33, "log-uniform"),
        ("all",),
        6.0,
        "load cells under the slide",
        "calibrate the monitor",
        LINKS,
        "readings",
    ),
)


FAULTS: tuple[Fault, ...] = (*_COIL, *_FORMING, *_LATER, *_GAUGES)
