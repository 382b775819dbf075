"""What the setup sheet of the impact rig says: how each hit is made, what it stores, who stays out of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from firstoff.physics.impact import protocol
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.mounting.impact_sheet import Blow

GRAVITY: Final = 9.80665  # m/s2, standard
ARM: Final = 3.3528  # m, 11 ft: shortest arm of a pendulum by 49 CFR 581.5(b), from memory; assumed for every one
CLEAR: Final = 2.0  # m around what moves: common practice, no source
CAUTIONS: Final = (
    "Impact rig: nobody in the danger zone while the pendulum is raised; a latch and a second catch hold it, a barrier "
    "keeps people out of its way and of the car's.",
    "Raise the pendulum only when the car stands in place, its brakes are as the protocol says and the zone is empty; "
    "lower it into the catch, never by hand, when a hit is called off.",
    "The pendulum swings back: catch it after the first hit and latch it before anybody goes to the car.",
    "A bar that was hit stands under stress: unbolt it with the load taken off, from the far bracket first; edges may "
    "be torn, chrome flakes off.",
    "Only the test itself shows what a hit does; airbags and batteries of the car made safe by an authorised person.",
)


def stored_energy(mass: float, speed: float) -> tuple[float, float]:
    """Energy E = m v^2/2 [J] of a striker of mass m [kg] at speed v [m/s], and the height h = v^2/(2 g) [m] from which
    it swings. Source: energy of a mass point (textbook)."""
    return 0.5 * mass * speed**2, speed**2 / (2.0 * GRAVITY)


def swing(height: float, arm: float = ARM) -> float:
    """Way [m] over the floor of a pendulum raised by h [m] on an arm L [m]: sqrt(2 L h - h^2). Source: geometry of a
    circle."""
    return math.sqrt(max(2.0 * arm * height - height**2, 0.0))


def rig_lines(blows: Sequence[Blow], mass: float) -> tuple[tuple[str, str], ...]:
    """Lines of the setup sheet: every hit with what it stores, danger zone and catch, protocols with their source."""
    lines: list[tuple[str, str]] = []
    farthest = 0.0
    for blow in blows:
        name = blow.name.replace("_", " ")
        energy, height = stored_energy(mass, blow.speed)
        stored = f"{format_value(mass, 'kg', 4)}, m v²/2 = {format_value(energy, 'J', 4)}"
        if "barrier" in blow.kind:
            lines += [(name, words(blow)), (f"{name}: the car stores", f"{stored}; released before the barrier")]
            continue
        reach = swing(height)
        farthest = max(farthest, reach)
        lines += [
            (name, words(blow)),
            (f"{name}: the pendulum stores", f"{stored} = m g h, raised by {format_value(height, 'mm', 3)}"),
            (f"{name}: drawn back", f"{format_value(reach, 'm', 3)}, arm {format_value(ARM, 'm', 3)} (assumed)"),
        ]
    zone = f"{format_value(farthest + CLEAR, 'm', 2)} before and behind the hit, {CLEAR:g} m beside it"
    lines.append(("danger zone", f"{zone} (assumed), roped off"))
    lines.append(("latch and catch", "both in before anybody enters; released from outside the zone, by one person"))
    rules = sorted({b.protocol for b in blows if b.protocol})
    lines += [(f"protocol {r}", f"{protocol.source(r)}; it measures {protocol.measures(r)}") for r in rules]
    return tuple(lines)


def words(blow: Blow) -> str:
    """`pendulum at 4 km/h, 0 mm from the middle`."""
    turned = f", way {math.degrees(blow.angle):.0f} deg off straight ahead" if blow.angle else ""
    return (f"{blow.kind} at {format_value(blow.speed, 'km/h', 3)}, "
            f"{format_value(blow.along, 'mm', 4)} from the middle{turned}")  # fmt: skip
