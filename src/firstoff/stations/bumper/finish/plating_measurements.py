"""What can be measured at racks, tanks and rectifiers. Minutes, dangers and uncertainties are assumed."""

from __future__ import annotations

from firstoff.chain.measurement import Measurement, Readout

TANK = "Extraction on, gloves, goggles, apron; nobody leans over the tank."

MEASUREMENTS: tuple[Measurement, ...] = (
    Measurement("coupon", "weighed coupon in each nickel bath, by ampere-hours of a reference meter", "nickel",
                (Readout("nickel.efficiency_semi", 0.008), Readout("nickel.efficiency_bright", 0.008)),
                "lot", 1, 90.0, 1, 5.0, beware=TANK, needs="a balance and a reference ampere-hour meter"),
    Measurement("ampere_hours", "reference ampere-hour meter on both nickel rectifiers over one rack", "nickel",
                (Readout("nickel.ammeter_semi", 0.008), Readout("nickel.ammeter_bright", 0.008)),
                "lot", 1, 60.0, 1, needs="a clamp meter that integrates"),
    Measurement("crane_log", "times in nickel and between nickel and chromium, from the crane's log", "nickel",
                (Readout("nickel.time_semi", 5.0), Readout("nickel.time_bright", 5.0),
                 Readout("chrome.transfer_time", 5.0)), "lot", 1, 5.0),
    Measurement("hook_clamp", "clamp meter on the hooks of the same bars", "racking",
                (Readout("racking.contact", 0.02),), "lot", 1, 15.0, 1, beware=TANK),
    Measurement("basket_clamp", "clamp meter on the hooks of the front baskets", "anodes",
                (Readout("anodes.basket_left", 0.03), Readout("anodes.basket_middle", 0.03),
                 Readout("anodes.basket_right", 0.03)), "lot", 1, 10.0, 1, beware=TANK),
    Measurement("rack_rule", "rule from face to anode bags and from rack to tank end", "anodes",
                (Readout("anodes.rack_along", 0.004), Readout("anodes.rack_towards", 0.004)), "lot", 1, 10.0, 1,
                beware=TANK),
    Measurement("shield_rule", "rule from the shields to their marks", "anodes",
                (Readout("anodes.shield_shift", 0.004),), "lot", 1, 10.0, 1, beware=TANK),
    Measurement("bath_thermometer", "second thermometer in bright nickel and chromium", "nickel",
                (Readout("nickel.temperature_bright", 0.3), Readout("chrome.temperature", 0.3)), "lot", 1, 5.0, 1,
                beware=TANK),
    Measurement("shelf_tester", "roughness of an upward face of three bars, stylus", "nickel",
                (Readout("shelf_roughness", 5e-9),), "same", 3, 10.0),
)  # fmt: skip
