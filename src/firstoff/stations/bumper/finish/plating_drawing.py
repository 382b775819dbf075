"""What is plated and where: the bar's points and class, the tank with its anodes, shields and thieves, the rack."""

from __future__ import annotations

from dataclasses import dataclass

from firstoff.physics.plating.deposit import Coating, coatings_for
from firstoff.physics.plating.mesh import Mesh
from firstoff.physics.plating.polarisation import Polarisation

HEXAVALENT, TRIVALENT = "hexavalent", "trivalent"


@dataclass(frozen=True)
class PlatingPoint:
    """A place at which thickness is measured."""

    name: str
    along: float  # from the middle of the bar along its face, to the right positive
    up: float  # of the section
    rear: float  # of the section; of the face 0
    back: bool  # on the inner side


@dataclass(frozen=True)
class Hung:
    """One sheet in the tank: upright along the face, upright across it, or lying flat."""

    name: str
    role: str  # anode, shield, thief
    along: float  # its middle, from the tank's middle
    away: float  # its middle, before the tank's middle plane (on the side of the face) positive
    depth: float  # its upper edge below the surface; of a flat one the sheet itself
    width: float  # along the tank; of one across it, from front to rear
    height: float  # downwards; of a flat one from front to rear
    lies: str  # along, across, flat


@dataclass(frozen=True)
class Rack:
    """Bars one above the other, hung by their ends."""

    bars: int
    pitch: float  # downwards from bar to bar
    depth: float  # of the first bar's drawing datum (up = 0) below the surface
    along: float
    away: float  # of the face's middle before the tank's middle plane


@dataclass(frozen=True)
class Tank:
    """Inner length, width, and depth of liquid."""

    length: float
    width: float
    depth: float


@dataclass(frozen=True)
class MapRow:
    """A thickness measured on a similar bar, reduced to one ampere-second per square metre of it."""

    layer: str  # nickel or chrome
    point: str
    per_charge: float  # m per C/m2
    relative: float  # standard uncertainty of it, relative


@dataclass(frozen=True)
class PlatingDrawing:
    """Everything of the finish that is no parameter of a station."""

    points: tuple[PlatingPoint, ...]
    service_condition: int | None
    chromium: str  # r, mp, mc
    bath: str  # hexavalent or trivalent
    significant: float  # depth of the significant surface behind the face
    tank: Tank | None
    rack: Rack
    hung: tuple[Hung, ...]
    nickel_law: Polarisation
    chrome_law: Polarisation
    map: tuple[MapRow, ...]
    fineness: float
    mesh: Mesh | None = None  # of the real part, where the sheet names its STL

    @property
    def shielded(self) -> bool:
        return any(h.role == "shield" for h in self.hung)

    @property
    def with_chrome(self) -> bool:
        """Whether chromium can be computed: from the tank's field, or from a map that has it."""
        return self.tank is not None or any(r.layer == "chrome" for r in self.map)

    @property
    def coatings(self) -> tuple[Coating, ...]:
        """What the service condition asks for with this kind of chromium; empty without a class."""
        if self.service_condition is None:
            return ()
        return tuple(c for c in coatings_for(self.service_condition) if c.chromium_type == self.chromium)

    @property
    def coating(self) -> Coating | None:
        """The one that is planned: double nickel where the class has it."""
        return next(iter(self.coatings), None)
