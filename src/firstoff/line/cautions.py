"""What can hurt at a plating line, by what its tanks do. Common practice of the trade; the site's own rules hold."""

from __future__ import annotations

from collections.abc import Sequence

from firstoff.line.plant_line import PlantLine

ALWAYS = (
    "The timetable plans, it never drives a crane: interlocks decide. Keep out of the track while cranes run by "
    "themselves; lock out before anybody enters it.",
    "No entry into a tank without the site's permit: empty, rinsed, tested air, a second person.",
)
BY_WORD = (
    (("electroclean", "electrolytic clean"),
     "Electrocleaning gives off hydrogen and oxygen: extraction on, no flame or spark, current off before the lift."),
    (("clean", "degrease", "caustic", "alkali"),
     "Hot caustic cleaner burns eyes and skin: face shield and gloves, add it slowly, never water onto it."),
    (("acid", "pickle", "activat"),
     "Acid into water, never water into acid; away from cyanide and chlorine bleach."),
    (("nickel",),
     "Nickel salts: carcinogens and sensitisers of skin and lungs. Extraction on, no skin contact, no mist."),
    (("chrom",),
     "Hexavalent chromium: a carcinogen and sensitiser, and corrosive. Extraction and mist suppression on; drag-out "
     "and rinses hold it too; waste is treated apart."),
    (("cyanide",), "Cyanide: never near acid; antidote and a second person at hand."),
    (("copper", "zinc", "tin"), "Plating salts: the supplier's safety data sheet at the tank."),
    (("hot", "dry", "oven"), "Hot water and hot air scald: let loads cool before hands touch them."),
)  # fmt: skip
CURRENT = "Rectifiers: bars and bus bars are live, with live entry already while a load is lowered. Do not touch."


def cautions(line: PlantLine) -> list[str]:
    """The cautions of this line, each once."""
    words = [t.operation.lower() for t in line.tanks]
    found = [*ALWAYS, *(text for keys, text in BY_WORD if _any(keys, words))]
    if any(step.current for product in line.products for step in product.steps):
        found.append(CURRENT)
    return found


def _any(keys: Sequence[str], words: Sequence[str]) -> bool:
    return any(key in word for key in keys for word in words)
