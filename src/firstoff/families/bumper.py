"""The pressed steel bumper, in process order."""

from __future__ import annotations

from firstoff.families import CheckStation, Family, PlannedStation
from firstoff.stations.bumper import sheet
from firstoff.stations.bumper.mounting import mounted_sheet
from firstoff.stations.bumper.mounting.assembly import Assembly
from firstoff.stations.bumper.mounting.fit_up import FitUp
from firstoff.stations.bumper.mounting.impact import Impact
from firstoff.stations.bumper.mounting.impact_faults import FAULTS as SEEN_IN_HITS
from firstoff.stations.bumper.mounting.towing import Towing
from firstoff.stations.bumper.mounting.vibration import Vibration
from firstoff.stations.bumper.pressing.blanking import Blanking
from firstoff.stations.bumper.pressing.checking_fixture import CheckingFixture
from firstoff.stations.bumper.pressing.coil import Coil
from firstoff.stations.bumper.pressing.cures import with_cures
from firstoff.stations.bumper.pressing.cutting import FinalPierce, Pierce, Trim
from firstoff.stations.bumper.pressing.design import contradictions
from firstoff.stations.bumper.pressing.draw import Draw
from firstoff.stations.bumper.pressing.faults import FAULTS, NOT_SEEN
from firstoff.stations.bumper.pressing.flanging import CamFlange, Flange
from firstoff.stations.bumper.pressing.measurements import MEASUREMENTS
from firstoff.stations.bumper.pressing.press_monitor import PressMonitor
from firstoff.stations.bumper.pressing.reform import Reform
from firstoff.stations.bumper.pressing.restrike import Restrike
from firstoff.stations.settle import Settings


def stations(settings: Settings) -> tuple[PlannedStation, ...]:
    """In process order; a second forming hit only where the sheet asks for it."""
    second = settings.drawing is None or settings.drawing.form_hits == 2
    mounted = settings.drawing is None or settings.drawing.mounted is not None
    return (
        Coil(), Blanking(), Draw(), *((Reform(),) if second else ()), Trim(), Pierce(settings), Flange(settings),
        CamFlange(), Restrike(), FinalPierce(settings), PressMonitor(settings), CheckingFixture(settings),
        *((Assembly(),) if mounted else ()),
    )  # fmt: skip


def checks(settings: Settings) -> tuple[CheckStation, ...]:
    """What may be tested beside the route."""
    return (Impact(settings), Vibration(settings), FitUp(settings), Towing(settings))


HANDLING = "A part with a split or a loose sliver is scrapped, not filed: it tears under the polishing wheel."

MODEL = """
# The bar: its cross-section from the upper edge to the lower at the middle of the sheet (x to the rear, y up), its plan
# curve from the middle outwards, and the points of the checking fixture. An invented example:
[bar]
length = "1800 mm"

[[corner]]
name = "upper edge"
x = "70 mm"
y = "90 mm"

[[corner]]
name = "upper front"
x = "0 mm"
y = "90 mm"
radius = "8 mm"
die = "draw"
restrike = true

[[corner]]
name = "lower front"
x = "0 mm"
y = "-90 mm"
radius = "8 mm"
die = "draw"
restrike = true

[[corner]]
name = "lower edge"
x = "60 mm"
y = "-90 mm"

[[arc]]
length = "900 mm"
radius = "4000 mm"

[[fixture_point]]
name = "upper_middle"
at = "upper edge"
gap = "3 ±0.8 mm"
flush = "0 ±1 mm"

# Further characteristics, computed or only measured:
[characteristics.face_waviness]
unit = "mm"
limits = "<= 0.2 mm"
what = "waviness of the face over 200 mm"
"""

PLANT = """
[[press]]
name = "press"
force = "19600 kN"
count = 8

[[gauge]]
name = "checking fixture"
measures = "gap_* flush_*"
u = "0.1 mm"               # standard uncertainty of one reading
resolution = "0.1 mm"
source = "assumed: replace by your fixture study"
"""

FAMILY = Family(
    "bumper",
    "Pressed steel bumper",
    stations,
    with_cures(FAULTS),
    NOT_SEEN,
    make_checks=checks,
    check_faults={Impact.name: SEEN_IN_HITS},
    measurements=MEASUREMENTS,
    contradictions=contradictions,
    handling=HANDLING,
    sections=(*sheet.MODEL, *mounted_sheet.SECTIONS),
    plant_sections=sheet.PLANT,
    read=mounted_sheet.read,
    start=(MODEL, PLANT),
    readings="reading",
    readings_unit="mm",
)
