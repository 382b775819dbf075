"""What can go wrong in racking, tanks and rectifiers.

Frequencies and sizes are assumed (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from firstoff.chain.fault import Cure, Fault, Move, Sizes

TANK = "Tank: rectifier off and locked; extraction on, gloves, goggles, apron; nobody leans over or enters it alone."
METER = "Rectifier: an electrician opens it; clamp meter outside the enclosure."
HEX = "Chromium(VI): extraction proven, no skin contact, rinse water is waste."

_RACKING = (
    (Fault("contact_worn", "racking", "worn hook or dirty contact", (Move("racking.contact", "scale"),),
           Sizes(0.6, 0.93, "log-uniform"), ("one", "group", "all"), 20.0,
           "clamp meter on each hook of the rack; burnt spot at the contact", "strip and dress the hooks, new springs",
           TANK),
     Cure(30.0, 15.0, note="strip the hooks; strip and plate the bars again")),
)  # fmt: skip


def _basket(where: str, words: str) -> tuple[Fault, Cure]:
    return (
        Fault(f"basket_{where}_dead", "anodes", f"anode basket {words} draws nothing or little",
              (Move(f"anodes.basket_{where}", "set"),), Sizes(0.0, 0.5), ("all",), 6.0,
              "clamp meter on the hook of each basket", "clean hook and bus, fill the basket, new bag", TANK),
        Cure(30.0, 20.0, note="dress the contact, fill the basket"),
    )  # fmt: skip


def _moved(name: str, parameter: str, title: str, confirm: str, rate: float) -> tuple[Fault, Cure]:
    return (
        Fault(name, "anodes", title, (Move(f"anodes.{parameter}", "add"),),
              Sizes(0.015, 0.055, "log-uniform", both_signs=True), ("all",), rate, confirm,
              "back to its mark; mark renewed", TANK),
        Cure(20.0, 0.0, by_setting=True, note="set back to its mark"),
    )  # fmt: skip


_ANODES = (
    _basket("left", "at the left end"), _basket("middle", "in the middle"), _basket("right", "at the right end"),
    _moved("rack_along_off", "rack_along", "rack hangs off its place along the tank", "rule from rack to tank end",
           6.0),
    _moved("rack_towards_off", "rack_towards", "rack hangs off the middle, nearer to or further from the front anodes",
           "rule from face to anode bags, both ends", 8.0),
    _moved("shield_moved", "shield_shift", "shield has moved", "rule from shield to its mark", 8.0),
)  # fmt: skip


def _of_layer(layer: str, words: str) -> tuple[tuple[Fault, Cure], ...]:
    return (
        (Fault(f"{layer}_efficiency_low", "nickel", f"{words} bath deposits too little (foreign metal, organics)",
               (Move(f"nickel.efficiency_{layer}", "scale"),), Sizes(0.8, 0.96, "log-uniform"), ("all",), 8.0,
               "weighed coupon over ampere-hours", "analysis and the supplier's treatment", TANK),
         Cure(480.0, 300.0, note="treat the bath; the lot is stripped and plated again")),
        (Fault(f"{layer}_ammeter_off", "nickel", f"ammeter or shunt of the {words} rectifier is off",
               (Move(f"nickel.ammeter_{layer}", "scale"),), Sizes(0.8, 0.96, "log-uniform"), ("all",), 5.0,
               "clamp meter or reference shunt on the bus; ampere-hours", "shunt and meter calibrated", METER),
         Cure(60.0, 100.0, note="calibrate; set the current by the reference till then")),
        (Fault(f"{layer}_time_short", "nickel", f"time in {words} nickel is short",
               (Move(f"nickel.time_{layer}", "scale"),), Sizes(0.8, 0.96, "log-uniform"), ("all", "group"), 6.0,
               "crane's log; stop-watch on one rack", "crane's programme", "Crane: nobody under a moving flight bar."),
         Cure(20.0, 0.0, by_setting=True, note="programme back to the setup sheet")),
    )  # fmt: skip


_NICKEL = (
    *_of_layer("semi", "semi-bright"), *_of_layer("bright", "bright"),
    (Fault("anode_bag_torn", "nickel", "torn anode bag or failed filter", (Move("nickel.particles", "scale"),),
           Sizes(2.0, 8.0, "log-uniform"), ("all",), 10.0, "look at the bags; roughness of a shelf of a test panel",
           "new bag, filter changed, bath filtered over night", TANK),
     Cure(480.0, 60.0, note="filter; rough bars are stripped and plated again")),
    (Fault("nickel_bath_cold", "nickel", "bright nickel bath is cold", (Move("nickel.temperature_bright", "add"),),
           Sizes(-22.0, -6.0), ("all",), 6.0, "second thermometer in the bath; voltage at the setup's current",
           "heater and thermostat", TANK),
     Cure(120.0, 30.0, note="heat up before the next rack")),
)  # fmt: skip
_CHROME = (
    (Fault("transfer_late", "chrome", "bars wait too long between nickel and chromium",
           (Move("chrome.transfer_time", "add"),), Sizes(90.0, 600.0, "log-uniform"), ("all", "group"), 12.0,
           "crane's log; activation before chromium on one rack", "crane's programme; keep wet, activate", HEX),
     Cure(30.0, 0.0, parts="rework", by_setting=True, note="crane's programme")),
    (Fault("rinse_dirty", "chrome", "rinse before chromium is dirty: nickel goes passive sooner",
           (Move("chrome.passive_after", "scale"),), Sizes(0.15, 0.5, "log-uniform"), ("all",), 5.0,
           "conductivity of the rinse; a rack rinsed in fresh water", "rinse renewed, its flow as planned", HEX),
     Cure(45.0, 40.0, parts="rework", note="renew the rinse; strip chromium, activate, plate it again")),
    (Fault("chrome_bath_cold", "chrome", "chromium bath is cold", (Move("chrome.temperature", "add"),),
           Sizes(-10.0, -3.0), ("all",), 6.0, "second thermometer in the bath", "heater, thermostat, stirring", HEX),
     Cure(120.0, 30.0, note="heat up before the next rack")),
    (Fault("chrome_ammeter_off", "chrome", "ammeter or shunt of the chromium rectifier is off",
           (Move("chrome.ammeter", "scale"),), Sizes(0.75, 0.95, "log-uniform"), ("all",), 5.0,
           "clamp meter on the bus", "shunt and meter calibrated", METER),
     Cure(60.0, 100.0, note="calibrate; strip chromium and plate it again")),
    (Fault("strike_interrupted", "chrome", "current fails at the entry into chromium",
           (Move("chrome.interruption", "add"),),
           Sizes(0.8, 8.0, "log-uniform"), ("all", "one", "group"), 8.0, "recorder of the rectifier at entry; saddle",
           "saddle and bus cleaned, live entry set", HEX),
     Cure(30.0, 0.0, note="clean the saddle; strip chromium and plate it again")),
)  # fmt: skip


def _with(pairs: tuple[tuple[Fault, Cure], ...]) -> tuple[Fault, ...]:
    return tuple(replace(fault, effort=cure) for fault, cure in pairs)


FAULTS: Final[Mapping[str, tuple[Fault, ...]]] = {
    "racking": _with(_RACKING), "anodes": _with(_ANODES), "nickel": _with(_NICKEL), "chrome": _with(_CHROME),
}  # fmt: skip
