"""What a plant sheet says about a plating line: the sections and their keys."""

from __future__ import annotations

from firstoff.line.plant_line import STATIONS
from firstoff.sheets.schema import Key, Section


def _text(name: str, what: str, required: bool = False, choices: tuple[str, ...] = ()) -> Key:
    return Key(name, None, what, required=required, type="text", choices=choices)


def _time(name: str, what: str, required: bool = False, low: str = "0 s") -> Key:
    return Key(name, "s", what, required=required, low=low, high="24 h")


def _place(name: str, what: str, required: bool = False) -> Key:
    return Key(name, "m", what, required=required, low="-1000 m", high="1000 m")


SECTIONS = (
    Section(
        "line",
        (
            _text("name", "name of the plating line", required=True),
            Key("travel_speed", "m/s", "speed of the cranes along the track", required=True, low="0.01 m/s",
                high="10 m/s"),
            Key("acceleration", "m/s^2", "speeding up and slowing down; left out: taken to be at speed at once",
                low="0.01 m/s^2", high="10 m/s^2"),
            _time("lift", "hooking on and lifting clear of the tank, unless the tank says otherwise"),
            _time("drip", "hanging over the tank to drip, unless the tank says otherwise"),
            _time("lower", "lowering and unhooking, unless the tank says otherwise"),
            Key("separation", "m", "least distance of two cranes", low="0 m", high="50 m"),
            Key("flight_bars", None, "flight bars there are: no more loads can be in the line at once", type="integer",
                low="1", high="500"),
            _time("slack", "kept free at both ends of every window, for a crane that is late"),
            Key("time_step", "s", "all times are rounded to it, windows inwards, crane times up", low="0.01 s",
                high="60 s"),
        ),
        "A plating line with its cranes",
    ),
    Section(
        "line.tank",
        (
            _text("name", "name of the tank or load place", required=True),
            _text("operation", "what it does; tanks of one operation are duplicates. Load places: "
                  + ", ".join(f'"{s}"' for s in STATIONS), required=True),
            _place("position", "its middle along the track", required=True),
            _time("lift", "hooking on and lifting clear of this tank"),
            _time("drip", "hanging over this tank"),
            _time("lower", "lowering into this tank and unhooking"),
            _time("turnaround", "of a load place: taking off and hanging on"),
            _text("bus", "rectifier bus that feeds it"),
        ),
        "A tank or load place of the line",
        repeated=True,
    ),
    Section(
        "line.crane",
        (
            _text("name", "name of the crane", required=True),
            _place("from", "low end of its reach"),
            _place("to", "high end of its reach"),
        ),
        "The cranes, in their order along the track; one without limits when none is named",
        repeated=True,
    ),
    Section(
        "line.product",
        (
            _text("name", "name of the product", required=True),
            Key("loads", None, "loads of it in one cycle", type="integer", low="1", high="12"),
            Key("parts", None, "parts on one load", type="integer", low="1", high="100000"),
        ),
        "The products of one cycle; one when none is named",
        repeated=True,
    ),
    Section(
        "line.step",
        (
            _text("product", "whose recipe; may be left out when there is one product"),
            _text("operation", "in which tanks", required=True),
            _text("time", 'window of the immersion: "180 to 300 s", "min 20 s"', required=True),
            Key("current", "A", "current of one load", low="0 A", high="1000000 A"),
            _time("contact", "from set down until current flows; inside the window"),
            _time("ramp", "from then until full current; inside the window"),
            _text("entry", "whether current is on while the load is lowered", choices=("dead", "live")),
        ),
        "The steps of the recipes, in order",
        repeated=True,
    ),
    Section(
        "line.air_limit",
        (
            _text("from", "operation the load is lifted out of", required=True),
            _text("to", "later operation it is lowered into", required=True),
            _time("time", "most time in air between them; time in rinses between does not count", required=True),
        ),
        "Limits on the time in air",
        repeated=True,
    ),
    Section(
        "line.bus",
        (
            _text("name", "name of the rectifier bus", required=True),
            Key("current", "A", "most current at once", required=True, low="1 A", high="10000000 A"),
        ),
        "Rectifier buses whose current is limited",
        repeated=True,
    ),
    Section(
        "line.measured",
        (
            _text("from", "name of a tank", required=True),
            _text("to", "name of another tank", required=True),
            _time("loaded", "from the start of the lift until set down and free"),
            _time("empty", "empty way from above the one to above the other"),
        ),
        "Times taken with a watch; they outrank speed and acceleration",
        repeated=True,
    ),
)  # fmt: skip
