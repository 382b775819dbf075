"""The pressed steel bumper, in process order."""

from __future__ import annotations

from firstoff.families import CheckStation, Family, PlannedStation
from firstoff.stations.bumper import sheet
from firstoff.stations.bumper.finish import plating_sheet, treatment
from firstoff.stations.bumper.finish.anodes import Anodes
from firstoff.stations.bumper.finish.buffing import Buffing
from firstoff.stations.bumper.finish.buffing_faults import FAULTS as SEEN_AFTER_BUFFING
from firstoff.stations.bumper.finish.buffing_faults import MEASUREMENTS as BUFFED
from firstoff.stations.bumper.finish.chrome import Chrome
from firstoff.stations.bumper.finish.inspection import Inspection
from firstoff.stations.bumper.finish.mirror import Mirror
from firstoff.stations.bumper.finish.nickel import Nickel
from firstoff.stations.bumper.finish.paint import Paint
from firstoff.stations.bumper.finish.paint_faults import FAULTS as SEEN_IN_PAINT
from firstoff.stations.bumper.finish.paint_faults import MEASUREMENTS as PAINTED
from firstoff.stations.bumper.finish.plating_faults import FAULTS as SEEN_IN_PLATING
from firstoff.stations.bumper.finish.plating_measurements import MEASUREMENTS as OF_PLATING
from firstoff.stations.bumper.finish.racking import Racking
from firstoff.stations.bumper.finish.surface_tests import MEASUREMENTS as OF_THE_FINISH
from firstoff.stations.bumper.finish.thickness import Thickness
from firstoff.stations.bumper.mounting import mounted_sheet
from firstoff.stations.bumper.mounting.assembly import Assembly
from firstoff.stations.bumper.mounting.fit_up import FitUp
from firstoff.stations.bumper.mounting.impact import Impact
from firstoff.stations.bumper.mounting.impact_faults import BOLTED_FAULTS
from firstoff.stations.bumper.mounting.impact_faults import FAULTS as SEEN_IN_HITS
from firstoff.stations.bumper.mounting.measurements import MEASUREMENTS as OF_MOUNTING
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
    told = treatment.of(settings.drawing)
    buffed = settings.drawing is None or bool(told.wheels)
    painted = settings.drawing is None or told.painted
    looked = settings.drawing is None or bool(told.zones or told.tests)
    return (
        Coil(), Blanking(), Draw(), *((Reform(),) if second else ()), Trim(), Pierce(settings), Flange(settings),
        CamFlange(), Restrike(), FinalPierce(settings), PressMonitor(settings), CheckingFixture(settings),
        *((Buffing(settings),) if buffed else ()), *_plating(settings), *((Mirror(settings),) if buffed else ()),
        *((Paint(),) if painted else ()), *((Inspection(settings),) if looked else ()),
        *((Assembly(),) if mounted else ()),
    )  # fmt: skip


def _plating(settings: Settings) -> tuple[PlannedStation, ...]:
    """From rack to thickness; the tank's own station where the sheets draw the tank."""
    drawn = settings.drawing.plating if settings.drawing is not None else None
    if settings.drawing is not None and drawn is None:
        return ()
    tank, chrome = drawn is None or drawn.tank is not None, drawn is None or drawn.with_chrome
    return (
        Racking(), *((Anodes(settings),) if tank else ()), Nickel(settings), *((Chrome(settings),) if chrome else ()),
        Thickness(settings),
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
    check_faults={
        Buffing.name: SEEN_AFTER_BUFFING,
        **SEEN_IN_PLATING,
        Paint.name: SEEN_IN_PAINT,
        Assembly.name: BOLTED_FAULTS,
        Impact.name: SEEN_IN_HITS,
    },
    measurements=(*MEASUREMENTS, *BUFFED, *OF_PLATING, *PAINTED, *OF_THE_FINISH, *OF_MOUNTING),
    contradictions=contradictions,
    handling=HANDLING,
    sections=(*sheet.MODEL, *mounted_sheet.SECTIONS, *plating_sheet.MODEL, *treatment.SECTIONS),
    plant_sections=(*sheet.PLANT, *plating_sheet.PLANT, *treatment.PLANT),
    read=treatment.read,
    start=(MODEL, PLANT),
    readings="reading",
    readings_unit="mm",
)
