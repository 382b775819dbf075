"""What can be measured of a damper beside its force curve, without ever opening a charged one.

Minutes, dangers and uncertainties are assumed (common practice, no source); a gauge of the plant sheet outranks the
uncertainty given here. The cost is that of the parts lost, in the plant's own money.
"""

from __future__ import annotations

from firstoff.chain.measurement import Measurement, Readout

LOOSE = "parts of the same lot, not yet built in"
UNFILLED = "valves of the same lot, never filled nor charged"
BENCH = "Flow bench: oil under pressure; hood closed, eye protection, no hand at a joint."
SPRING = "A spring under test is under load: eye protection, fingers out of the fixture."
PRESS = "Crimping press: take the parts after it, never reach in; lock out before adjusting."
RIG = "Rig: guard closed, lock out before clamping or touching the cell."
CHARGED = "Charged damper: never open, heat or weld it. " + RIG
NITROGEN = "Nitrogen displaces air; the charging head stands under pressure: shield it, ventilation and alarm on."
OIL = "Hot oil burns, spilt oil slips: gloves, wipe up."


def _valve(side: str, station: str, part: str) -> tuple[Measurement, ...]:
    """Springs, bleed discs and stack of the valve that makes the force of one direction."""
    key = f"{station}.{side}"
    return (
        Measurement(f"{side}_spring_check", f"spring check of ten {side} relief springs", station,
                    (Readout(f"spring_force_{side}", 0.5),), "lot", 10, 15.0, 1, beware=SPRING, needs=LOOSE),
        Measurement(f"{side}_spring_rate", f"spring check at two lengths, five {side} relief springs", station,
                    (Readout(f"spring_force_{side}", 0.5), Readout(f"{key}_relief_rate", relative=0.01)), "lot", 5,
                    20.0, 1, beware=SPRING, needs=LOOSE),
        Measurement(f"{side}_bleed_disc", f"thickness of ten {side} bleed discs", station,
                    (Readout(f"{key}_bleed_depth", 2e-6),), "lot", 10, 8.0, needs=LOOSE),
        Measurement(f"{side}_stack", f"{side} stack of three {part} valves: discs counted and measured", station,
                    (Readout(f"{key}_disc_count", 0.1), Readout(f"{key}_bleed_count", 0.1),
                     Readout(f"{key}_bleed_depth", 2e-6), Readout(f"{key}_disc_thickness", 2e-6)), "lot", 3, 25.0, 0,
                    3.0, needs=UNFILLED, destructive=True),
        Measurement(f"{side}_flow_bench", f"flow bench at low pressure, {side}, three {part} valves", station,
                    (Readout(f"bench_flow_{side}", relative=0.015),), "lot", 3, 20.0, 1, beware=BENCH,
                    needs=UNFILLED),
    )  # fmt: skip


def _valves() -> tuple[Measurement, ...]:
    plain = UNFILLED + ", a plain disc in place of the bleed disc"
    return (
        Measurement("piston_leak_bench", "flow bench in the closing direction, three piston valves", "piston_valve",
                    (Readout("bench_leak_piston", 3e-8, 0.03),), "lot", 3, 30.0, 1, beware=BENCH, needs=plain),
        Measurement("intake_leak_bench", "flow bench in the closing direction, three base valves", "base_valve",
                    (Readout("bench_leak_intake", 3e-8, 0.03),), "lot", 3, 30.0, 1, beware=BENCH, needs=plain),
        Measurement("piston_ports", "pin gauge in ports and seat of three pistons", "piston_valve",
                    (Readout("piston_valve.rebound_port_diameter", 1e-5),
                     Readout("piston_valve.rebound_seat_diameter", 2e-5)), "lot", 3, 6.0, needs=LOOSE),
        Measurement("intake_disc", "thickness of ten intake discs", "base_valve",
                    (Readout("base_valve.intake_disc_thickness", 2e-6),), "lot", 10, 8.0, needs=LOOSE),
        Measurement("crimp_height", "crimp height of ten base valves", "base_valve",
                    (Readout("base_valve.crimp_length", 5e-6),), "lot", 10, 8.0, 1, beware=PRESS,
                    needs="base valves of the same lot, not yet built in, or the press record"),
    )  # fmt: skip


def _filling() -> tuple[Measurement, ...]:
    return (
        Measurement("fill_weight", "fill weight of the next five dampers", "oil_fill",
                    (Readout("oil_mass", 5e-4),), "lot", 5, 10.0, 1, beware=OIL,
                    needs="the next dampers of the lot, before charging"),
        Measurement("drum_viscosity", "viscosity of a sample from the drum", "oil_fill",
                    (Readout("oil_fill.viscosity_40", relative=0.01),), "lot", 1, 35.0, 1, 5.0, beware=OIL,
                    needs="a sample from the drum in use, and a viscometer at 40 °C"),
        Measurement("oil_settling", "gas in a sample from the filling nozzle, before and after it has settled",
                    "oil_fill", (Readout("oil_fill.entrained_gas", 0.005),), "lot", 1, 40.0, 1, beware=OIL,
                    needs="a measuring cylinder, filled at the nozzle"),
        Measurement("charge_gauge", "charge pressure of the next three dampers, at the charging head", "gas_charge",
                    (Readout("charge_pressure", 1e4),), "lot", 3, 12.0, 2, beware=NITROGEN,
                    needs="the next dampers of the lot, while they are charged"),
    )  # fmt: skip


def _rig() -> tuple[Measurement, ...]:
    return (
        Measurement("gas_force_two_positions", "gas force of three dampers at rest, rod out and rod in", "damping_rig",
                    (Readout("gas_force_out", 1.5), Readout("gas_force_in", 1.5)), "same", 3, 12.0, 1, beware=CHARGED,
                    needs="the same dampers, at the temperature of their test"),
        Measurement("friction_crawling", "friction of three dampers at crawling speed", "damping_rig",
                    (Readout("friction", 2.0),), "same", 3, 12.0, 1, beware=CHARGED, needs="the same dampers"),
        Measurement("force_loop", "force loop of three dampers at the middle speed, and crawling", "damping_rig",
                    (Readout("loop_rebound", 6.0), Readout("loop_compression", 6.0),
                     Readout("loop_energy", relative=0.01), Readout("loop_dead_rebound", 2e-4),
                     Readout("loop_dead_compression", 2e-4), Readout("loop_hysteresis_rebound", 4.0),
                     Readout("loop_hysteresis_compression", 4.0), Readout("crawl_friction_in", 2.0),
                     Readout("crawl_friction_out", 2.0), Readout("crawl_gas_in", 2.0), Readout("crawl_gas_out", 2.0)),
                    "same", 3, 20.0, 1, beware=CHARGED,
                    needs="the same dampers, and a rig that records force and travel"),
        Measurement("shell_temperature", "shell temperature of the next two dampers, right after their test",
                    "damping_rig", (Readout("damping_rig.oil_temperature", 0.7),), "lot", 2, 8.0, 1, beware=CHARGED,
                    needs="the next dampers of the lot, warmed up and tested as these were"),
        Measurement("cell_zero_check", "the force cell read with nothing clamped", "damping_rig",
                    (Readout("cell_unclamped", 1.0),), "rig", 1, 3.0, 1, beware=RIG,
                    needs="the rig as it was, before anybody zeroes it"),
        Measurement("cell_weight_check", "a dead weight on the force cell", "damping_rig",
                    (Readout("cell_unclamped", 1.0), Readout("cell_dead_weight", 1.0, 0.001)), "rig", 1, 15.0, 2,
                    beware=RIG + " A dead weight falls: lifting gear, nobody under it.",
                    needs="a weight of known mass, and the rig as it was"),
        Measurement("stroke_count", "strokes of one minute counted at the highest speed", "damping_rig",
                    (Readout("strokes_per_minute", 0.5 / 60.0),), "rig", 1, 5.0, 1, beware=RIG,
                    needs="a stop-watch, and the stroke measured"),
    )  # fmt: skip


MEASUREMENTS: tuple[Measurement, ...] = (
    *_valve("rebound", "piston_valve", "piston"),
    *_valve("compression", "base_valve", "base"),
    *_valves(),
    *_filling(),
    *_rig(),
)
