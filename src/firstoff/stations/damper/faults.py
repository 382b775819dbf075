"""What can go wrong with a damper, station by station, as far as a quasi-static force curve can show it.

Frequencies and sizes are assumed (common practice, no source). Sizes are relative where a part's own measure sets the
scale, so that the same list serves another damper.
"""

from __future__ import annotations

from firstoff.chain.fault import Fault, Move, Sizes

# parameters that are measured with the readings, so that they are known rather than suspected
TEMPERATURE = "damping_rig.oil_temperature"
FORCES = (
    "rebound_[0-9]*", "compression_[0-9]*", "static_gas_force", "gas_force_*", "cell_*", "loop_rebound",
    "loop_compression", "crawl_gas_*",
)  # fmt: skip
WIDTHS = ("friction", "loop_energy", "loop_hysteresis_*", "crawl_friction_*")  # of a loop: a zero is not in them

NOT_SEEN = (
    "oil low: its dead travel after reversal has no quasi-static force; only gas force, fill weight and a force loop "
    "(loop_* readings) show it",
    "stiff intake valve: it lags after reversal, which a quasi-static force does not show; measure its disc, or record "
    "a force loop",
    "crooked rod guide: only its mean friction is seen without the friction at two places (crawl_* readings)",
)

VENT = "Charged damper: never open, heat or weld it before an authorised person has vented it."
GUARD = "Rig: guard closed, lock out before clamping or touching the cell."
PRESS = "Press and crimping: lock out before adjusting; two-hand control or closed guard."
SPRING = "A spring under test is under load: eye protection, fingers out of the fixture."
WEAK, STIFF = Sizes(0.60, 0.93, "log-uniform"), Sizes(1.07, 1.60, "log-uniform")


def _relief(station: str, side: str, parameter: str) -> tuple[Fault, ...]:
    """Springs of a relief. The preload of the base valve follows from rate and crimp, that of the piston is set."""
    key, rate = f"{station}.{parameter}", f"{station}.{side}_relief_rate"
    confirm = f"spring check: force at the installed length of ten {side} relief springs of the lot"
    cure = f"springs of the drawing's class; sort the lot on the spring check ({side} relief)"
    wrong = tuple(Move(name, "scale") for name in dict.fromkeys((rate, key)))
    return (
        Fault(f"{side}_relief_weak", station, f"{side} relief spring weak", (Move(key, "scale"),), WEAK,
              ("all", "group"), 15.0, confirm, cure, SPRING),
        Fault(f"{side}_relief_stiff", station, f"{side} relief spring stiff", (Move(key, "scale"),), STIFF,
              ("all", "group"), 12.0, confirm, cure, SPRING),
        Fault(f"{side}_wrong_spring_soft", station, f"wrong {side} relief spring, a softer one", wrong,
              Sizes(0.45, 0.75), ("all", "one"), 4.0, "part number, wire diameter and spring check", cure, SPRING),
        Fault(f"{side}_wrong_spring_hard", station, f"wrong {side} relief spring, a harder one", wrong,
              Sizes(1.35, 2.2), ("all", "one"), 4.0, "part number, wire diameter and spring check", cure, SPRING),
    )  # fmt: skip


def _discs(station: str, side: str) -> tuple[Fault, ...]:
    """Bleed disc and stack."""
    count, depth, stack = (f"{station}.{side}_{key}" for key in ("bleed_count", "bleed_depth", "disc_count"))
    bench = f"flow bench at low pressure on three {side} valves; count the discs of one that was never filled"
    cure = "restore the stack of the drawing; disc feeder and presence check before assembly restarts"
    return (
        Fault(f"{side}_bleed_missing", station, f"{side} bleed disc missing", (Move(count, "set"),), Sizes(0.0, 0.0),
              ("all", "one"), 5.0, bench, cure, VENT),
        Fault(f"{side}_bleed_doubled", station, f"{side} bleed disc doubled", (Move(depth, "scale"),),
              Sizes(2.0, 2.0), ("all", "one"), 5.0, bench, cure, VENT),
        Fault(f"{side}_disc_missing", station, f"{side} stack one disc short", (Move(stack, "add"),),
              Sizes(-1.0, -1.0), ("all", "one"), 5.0, "count and weigh the stack", cure, VENT),
        Fault(f"{side}_disc_more", station, f"{side} stack one disc too many", (Move(stack, "add"),),
              Sizes(1.0, 1.0), ("all", "one"), 5.0, "count and weigh the stack", cure, VENT),
    )  # fmt: skip


def _crimp() -> tuple[Fault, ...]:
    move = (Move("base_valve.crimp_length", "add"),)
    confirm = "crimp height of ten base valves, before assembly or from the press record"
    cure = "move the stop of the crimping press, in steps of 0.02 mm"
    return (
        Fault("crimp_long", "base_valve", "base crimp long", move, Sizes(4e-5, 2.5e-4, "log-uniform"),
              ("all", "group"), 15.0, confirm, cure, PRESS),
        Fault("crimp_short", "base_valve", "base crimp short", move, Sizes(-2.5e-4, -4e-5, "log-uniform"),
              ("all", "group"), 15.0, confirm, cure, PRESS),
    )  # fmt: skip


def _leaks() -> tuple[Fault, ...]:
    """A leak of the piston's check is an area past the piston; one of the intake an area past the base valve."""
    ring, past = (Move("piston_valve.ring_leak_area", "add"),), (Move("base_valve.intake_leak_area", "add"),)
    area, base = Sizes(5e-8, 1.2e-6, "log-uniform"), Sizes(4e-8, 1.1e-6, "log-uniform")
    bench = "flow bench in the closing direction; look at the seat under magnification"
    return (
        Fault("piston_check_leak", "piston_valve", "piston check does not seal", ring, area, ("all", "group"), 8.0,
              bench, "lap or replace the seat; check the die's sizing", VENT),
        Fault("piston_check_chip", "piston_valve", "chip under the piston check", ring, area, ("one",), 12.0,
              bench, "wash and blow the pistons; scrap or rework the part", VENT),
        Fault("intake_leak", "base_valve", "intake valve does not seal", past, base, ("all", "group"), 5.0,
              bench, "replace disc or seat; check flatness of the land", VENT),
        Fault("intake_chip", "base_valve", "chip under the intake valve", past, base, ("one",), 8.0,
              bench, "wash and blow the base valves; scrap or rework the part", VENT),
        Fault("intake_stiff", "base_valve", "intake valve stiff", (Move("base_valve.intake_disc_thickness", "scale"),),
              Sizes(1.15, 1.8, "log-uniform"), ("all", "group"), 4.0,
              "thickness of ten intake discs of the lot", "discs of the drawing's thickness; sort the lot", VENT),
    )  # fmt: skip


def _piston() -> tuple[Fault, ...]:
    """The piston of another class: every diameter of its ports and of the rebound seat is off by one factor."""
    keys = ("rebound_port_diameter", "rebound_seat_diameter", "rebound_pressure_diameter", "check_port_diameter")
    moves = tuple(Move(f"piston_valve.{key}", "scale") for key in keys)
    confirm = "class mark, and pin gauge in the ports, of three pistons of the lot"
    cure = "pistons of the drawing's class; quarantine the bin, check the feeder's change-over"
    return (
        Fault("wrong_piston_small", "piston_valve", "wrong piston fitted, of a smaller class", moves,
              Sizes(0.80, 0.94), ("all", "one"), 4.0, confirm, cure, VENT),
        Fault("wrong_piston_large", "piston_valve", "wrong piston fitted, of a larger class", moves,
              Sizes(1.06, 1.20), ("all", "one"), 4.0, confirm, cure, VENT),
    )  # fmt: skip


def _filling() -> tuple[Fault, ...]:
    charge, zero = "gas_charge.pressure", 101_325.0
    oil = tuple(Move(f"oil_fill.{key}", "scale") for key in ("viscosity_40", "viscosity_100"))
    warm = (Move(TEMPERATURE, "add"),)
    drum = "viscosity of a sample from the drum, and the drum's label"
    gas = "gas force at two rod positions, after rezeroing the cell unclamped; the charging station's record"
    shell = "shell temperature of the next damper, before and after the test"
    return (
        Fault("no_gas", "gas_charge", "no gas", (Move(charge, "set"),), Sizes(zero, zero), ("all", "one"), 8.0, gas,
              "charge again; check needle, valve and seal of the charging head", VENT),
        Fault("gas_low", "gas_charge", "charged too low", (Move(charge, "add"),), Sizes(-3.5e5, -0.8e5),
              ("all", "one"), 10.0, gas, "set the charging pressure; check time and supply", VENT),
        Fault("oil_low", "oil_fill", "oil low", (Move("oil_fill.volume", "scale"),), Sizes(0.80, 0.96, "log-uniform"),
              ("all", "one"), 8.0, "fill weight of the next five dampers; weigh a suspect part against a good one",
              "set the dosing pump; purge air from its suction line", VENT),
        Fault("oil_thin", "oil_fill", "oil too thin", oil, Sizes(0.5, 0.88, "log-uniform"), ("all",), 8.0, drum,
              "oil of the drawing's grade; drain and refill", VENT),
        Fault("oil_thick", "oil_fill", "oil too thick", oil, Sizes(1.14, 2.0, "log-uniform"), ("all",), 6.0, drum,
              "oil of the drawing's grade; drain and refill", VENT),
        Fault("oil_aerated", "oil_fill", "oil aerated", (Move("oil_fill.entrained_gas", "add"),),
              Sizes(0.01, 0.12, "log-uniform"), ("all",), 5.0, "let it rest, cycle, and test again",
              "degas the oil; check the suction side of the pump", VENT),
        Fault("damper_warm", "damping_rig", "damper warmer than stated", warm, Sizes(6.0, 40.0, "log-uniform"),
              ("all",), 15.0, shell, "wait for the test temperature, and record it", GUARD),
        Fault("damper_cold", "damping_rig", "damper colder than stated", warm, Sizes(-25.0, -6.0, "log-uniform"),
              ("all",), 8.0, shell, "warm up, and record the temperature", GUARD),
        Fault("friction_high", "damping_rig", "friction high: crooked rod guide or tight seal",
              (Move("damping_rig.friction", "add"),), Sizes(10.0, 120.0, "log-uniform"), ("all", "one"), 10.0,
              "friction over the whole stroke at crawling speed", "replace guide or seal; check the closing press",
              VENT),
    )  # fmt: skip


def _rig() -> tuple[Fault, ...]:
    forces = FORCES
    return (
        Fault("cell_zero", "damping_rig", "rig: force cell not zeroed", tuple(Move(f, "add") for f in forces),
              Sizes(8.0, 100.0, "log-uniform", both_signs=True), ("all",), 12.0,
              "read the cell with nothing clamped", "zero the cell unclamped, and test again", GUARD, "readings"),
        Fault("cell_reads_low", "damping_rig", "rig: force cell gain low",
              tuple(Move(f, "scale") for f in (*forces, *WIDTHS)), Sizes(0.80, 0.965, "log-uniform"), ("all",), 5.0,
              "master part, or a dead weight on the cell", "calibrate the cell, and test again", GUARD, "readings"),
        Fault("cell_reads_high", "damping_rig", "rig: force cell gain high",
              tuple(Move(f, "scale") for f in (*forces, *WIDTHS)), Sizes(1.035, 1.25, "log-uniform"), ("all",), 5.0,
              "master part, or a dead weight on the cell", "calibrate the cell, and test again", GUARD, "readings"),
        Fault("speed_slow", "damping_rig", "rig: slower than it says", (Move("speed", "scale"),),
              Sizes(0.75, 0.95, "log-uniform"), ("all",), 4.0, "count the crank turns of a minute; measure the stroke",
              "correct crank or drive, and test again", GUARD, "speed"),
        Fault("speed_fast", "damping_rig", "rig: faster than it says", (Move("speed", "scale"),),
              Sizes(1.05, 1.30, "log-uniform"), ("all",), 4.0, "count the crank turns of a minute; measure the stroke",
              "correct crank or drive, and test again", GUARD, "speed"),
    )  # fmt: skip


# what only the force loop of the rig in motion shows
SEEN_IN_MOTION: tuple[Fault, ...] = (
    Fault("intake_sticks", "base_valve", "intake valve sticks and opens late",
          (Move("dynamic_rig.intake_lag", "add"),), Sizes(0.01, 0.15, "log-uniform"), ("all", "one"), 4.0,
          "intake discs and guide of three base valves of the lot under magnification: burr, glue, wrong disc",
          "wash and deburr the base valves; discs of the drawing", VENT),
    Fault("guide_crooked", "damping_rig", "rod guide stands crooked", (Move("dynamic_rig.guide_angle", "add"),),
          Sizes(1.0e-3, 1.2e-2, "log-uniform"), ("all", "one", "group"), 8.0,
          "friction at crawling speed, rod in and rod out", "seat and force of the closing press; squareness of the "
          "guide's bore", VENT),
)  # fmt: skip

FAULTS: tuple[Fault, ...] = (
    *_relief("piston_valve", "rebound", "rebound_relief_preload"),
    *_discs("piston_valve", "rebound"),
    *_relief("base_valve", "compression", "compression_relief_rate"),
    *_discs("base_valve", "compression"),
    *_crimp(),
    *_leaks(),
    *_piston(),
    *_filling(),
    *_rig(),
)
