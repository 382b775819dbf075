"""The finish: buffed, racked, plated, painted, looked at; each only where the sheets state it."""

from __future__ import annotations

from firstoff.families import PlannedStation
from firstoff.stations.bumper.finish import treatment
from firstoff.stations.bumper.finish.anodes import Anodes
from firstoff.stations.bumper.finish.buffing import Buffing
from firstoff.stations.bumper.finish.buffing_faults import FAULTS as BUFFING_FAULTS
from firstoff.stations.bumper.finish.buffing_faults import MEASUREMENTS as BUFFED
from firstoff.stations.bumper.finish.chrome import Chrome
from firstoff.stations.bumper.finish.inspection import Inspection
from firstoff.stations.bumper.finish.mirror import Mirror
from firstoff.stations.bumper.finish.nickel import Nickel
from firstoff.stations.bumper.finish.paint import Paint
from firstoff.stations.bumper.finish.paint_faults import FAULTS as PAINT_FAULTS
from firstoff.stations.bumper.finish.paint_faults import MEASUREMENTS as PAINTED
from firstoff.stations.bumper.finish.plating_faults import FAULTS as PLATING_FAULTS
from firstoff.stations.bumper.finish.plating_measurements import MEASUREMENTS as OF_PLATING
from firstoff.stations.bumper.finish.racking import Racking
from firstoff.stations.bumper.finish.surface_tests import MEASUREMENTS as OF_THE_FINISH
from firstoff.stations.bumper.finish.thickness import Thickness
from firstoff.stations.settle import Settings


def stations(settings: Settings) -> tuple[PlannedStation, ...]:
    """In process order."""
    anything = settings.drawing is None
    told = treatment.of(settings.drawing)
    buffed = anything or bool(told.wheels)
    painted = anything or told.painted
    looked = anything or bool(told.zones or told.tests)
    return (
        *((Buffing(settings),) if buffed else ()), *_plating(settings), *((Mirror(settings),) if buffed else ()),
        *((Paint(),) if painted else ()), *((Inspection(settings),) if looked else ()),
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


FAULTS = {Buffing.name: BUFFING_FAULTS, **PLATING_FAULTS, Paint.name: PAINT_FAULTS}
MEASUREMENTS = (*BUFFED, *OF_PLATING, *PAINTED, *OF_THE_FINISH)
