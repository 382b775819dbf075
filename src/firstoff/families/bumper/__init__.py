"""The pressed steel bumper, in process order."""

from __future__ import annotations

from firstoff.families import Family, PlannedStation
from firstoff.families.bumper import finish, mounting
from firstoff.families.bumper.start import MODEL, PLANT
from firstoff.stations.bumper import sheet
from firstoff.stations.bumper.finish import plating_sheet, treatment
from firstoff.stations.bumper.mounting import mounted_sheet
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
    """From the coil to the car; a second forming hit only where the sheet asks for it."""
    second = settings.drawing is None or settings.drawing.form_hits == 2
    return (
        Coil(), Blanking(), Draw(), *((Reform(),) if second else ()), Trim(), Pierce(settings), Flange(settings),
        CamFlange(), Restrike(), FinalPierce(settings), PressMonitor(settings), CheckingFixture(settings),
        *finish.stations(settings), *mounting.stations(settings),
    )  # fmt: skip


HANDLING = "A part with a split or a loose sliver is scrapped, not filed: it tears under the polishing wheel."

FAMILY = Family(
    "bumper",
    "Pressed steel bumper",
    stations,
    with_cures(FAULTS),
    NOT_SEEN,
    make_checks=mounting.checks,
    check_faults={**finish.FAULTS, **mounting.FAULTS},
    measurements=(*MEASUREMENTS, *finish.MEASUREMENTS, *mounting.MEASUREMENTS),
    contradictions=contradictions,
    handling=HANDLING,
    sections=(*sheet.MODEL, *mounted_sheet.SECTIONS, *plating_sheet.MODEL, *treatment.SECTIONS),
    plant_sections=(*sheet.PLANT, *plating_sheet.PLANT, *treatment.PLANT),
    read=treatment.read,
    start=(MODEL, PLANT),
    readings="reading",
    readings_unit="mm",
)
