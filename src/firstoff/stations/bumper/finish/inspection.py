"""Inspection of the finish: the mirror under strong light, zone by zone, and the tests of the deposit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.finish.surface_tests import CORROSION, KINDS, SPRAY_WORDS, SurfaceTest, Zone
from firstoff.stations.bumper.finish.treatment import of
from firstoff.stations.settle import Settings, limited, setting_lines, settle

ASSUMED = "assumed: common practice, no source"
CAUTIONS = (
    "Strong light: no bare lamp in the eyes; change the person after the site's time: tired eyes miss flaws.",
    "A plated edge cuts: gloves that leave no marks; two people or a lifting aid for a bar.",
    "Spray cabinet: vent it before it is opened, salt and acid mist; hot part into cold water spits.",
)


class Inspection:
    """Light, distance and zones in, the time that looking takes out; the tests stand on its sheet."""

    name = "inspection"
    title = "Inspection: mirror under strong light, tests of the finish"
    needs: tuple[str, ...] = ()
    gives = ("look_time",)
    parameters = (
        Parameter("light", "lx", "setting", "light on the face", "1500 lx, lot sd 60 lx", ASSUMED, low="200 lx",
                  high="20000 lx", change=Change("100 lx", 10, "lamps over the stand", 10)),
        Parameter("distance", "mm", "setting", "from eye to face", "600 mm, part sd 60 mm", ASSUMED, low="150 mm",
                  high="3000 mm", change=Change("50 mm", 5, "marks on the floor", 8)),
        Parameter("pace", "1", "scatter", "time a person takes over the time of the zones",
                  "1, lot sd 0.05, part sd 0.1", ASSUMED, low="0.2", high="5"),
        Parameter("handling", "s", "setting", "hanging up, turning and taking off", "15 s, part sd 3 s", ASSUMED,
                  low="0 s", high="600 s", change=Change("1 s", 30, "stand and turning aid", 10)),
    )  # fmt: skip

    def __init__(self, settings: Settings | None = None) -> None:
        told = of(settings.drawing) if settings is not None else None
        self.zones: tuple[Zone, ...] = told.zones if told is not None else ()
        self.tests: tuple[SurfaceTest, ...] = told.tests if told is not None else ()

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        gives = (Characteristic("look_time", "s", "time a bar is looked at, handling in it"),)
        seconds = sum(z.seconds for z in self.zones)
        remembered = [KINDS[t.kind].source for t in self.tests if not t.stated]
        return Plan(
            self.name, values, limited(gives, settings), {"seconds": seconds},
            (*setting_lines(self, values), *self._zones(), *self._tests()),
            (
                "What an eye finds is not computed: a study with boundary samples says how often a person lets a flaw "
                "pass or refuses a good bar.",
                *(f"Limits of a test from {source}." for source in dict.fromkeys(remembered)),
            ),
            CAUTIONS,
        )  # fmt: skip

    def _zones(self) -> Iterator[tuple[str, str]]:
        for z in self.zones:
            said = [f"look for {format_value(z.seconds, 's', 3)}"]
            said += [f"sample {z.sample}"] if z.sample else []
            said += [f"allowed: {z.allowed}"] if z.allowed else []
            yield f"zone {z.name}", "; ".join(said)
        if self.zones:
            yield (
                "people who look",
                "agree with boundary samples and with each other: a study of 30 bars or more, each seen twice, "
                "good, bad and near the boundary, by `firstoff gauge` (kappa, bad let pass); a kappa "
                "of 0.75 or more is commonly asked for (from memory)",
            )

    def _tests(self) -> Iterator[tuple[str, str]]:
        for t in self.tests:
            kind = KINDS[t.kind]
            said = [kind.how]
            if t.kind == CORROSION:
                said = [f"{t.spray} ({SPRAY_WORDS[t.spray]}) for {format_value(t.hours, 'h', 5)}", kind.how]
                said += [f"rating {t.rating} or better"] if t.rating is not None else []
            yield t.kind, "; ".join([*said, kind.source, *([t.source] if t.source else [])])

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        pace, handling = columns["inspection.pace"], columns["inspection.handling"]
        odd = (pace <= 0.0) | (handling < 0.0)
        given: Columns = {"look_time": np.maximum(pace, 0.0) * plan.data["seconds"] + np.maximum(handling, 0.0)}
        return given, np.where(odd, Status.OUT_OF_RANGE, Status.OK).astype(np.uint8)
