"""What a vehicle sheet may hold."""

from __future__ import annotations

from firstoff.physics.vehicle.ride import ROAD_CLASSES
from firstoff.sheets.schema import Key, Section

SECTIONS = (
    Section(
        "vehicle",
        (
            Key("name", None, "name of the vehicle, and which corner", required=True, type="text"),
            Key("body_mass", "kg", "mass of the body on this wheel", required=True, low="30 kg", high="8000 kg"),
            Key("wheel_mass", "kg", "mass of wheel, hub, brake and what moves with them", required=True, low="3 kg",
                high="1500 kg"),
            Key("spring_rate", "N/mm", "rate of the spring as seen at the wheel", required=True, low="2 N/mm",
                high="2000 N/mm"),
            Key("tyre_rate", "N/mm", "rate of the tyre", required=True, low="20 N/mm", high="5000 N/mm"),
            Key("tyre_damping", "N s/m", "damping of the tyre", low="0 N s/m", high="5000 N s/m",
                default="0 N s/m (assumed: rolling tyres damp little)"),
            Key("contact_length", "mm", "length of the tyre's contact, over which it averages the road", low="0 mm",
                high="400 mm", default="100 mm (assumed)"),
            Key("motion_ratio", "1", "travel of the damper a travel of the wheel", low="0.3", high="1.5",
                default="1 (assumed: the damper stands at the wheel)"),
            Key("bump_travel", "mm", "compression at the wheel, from rest until the bump stop is used up",
                required=True, low="10 mm", high="600 mm"),
            Key("rebound_travel", "mm", "extension at the wheel, from rest to the rebound stop", required=True,
                low="10 mm", high="600 mm"),
            Key("bump_stop_clearance", "mm", "compression at the wheel, from rest until the bump stop is touched",
                low="0 mm", high="600 mm", default="the whole bump travel (assumed: no soft stop)"),
            Key("bump_stop_rate", "N/mm", "rate of the bump stop as seen at the wheel", low="1 N/mm",
                high="2000 N/mm", default="100 N/mm (assumed)"),
            Key("rebound_stop_rate", "N/mm", "rate of the rebound stop as seen at the wheel", low="1 N/mm",
                high="2000 N/mm", default="100 N/mm (assumed)"),
        ),
        "One corner of the vehicle, laden as it is to be judged",
        required=True,
    ),
    Section(
        "road",
        (
            Key("class", None, "class of ISO 8608", type="text", choices=tuple(ROAD_CLASSES)),
            Key("roughness", "m^3", "displacement PSD at 0.1 cycles/m, instead of a class", low="1e-7 m^3",
                high="1 m^3"),
            Key("waviness", "1", "exponent of the spectrum", low="1", high="4", default="2 (ISO 8608)"),
            Key("speed", "km/h", "speed on it", required=True, low="3 km/h", high="350 km/h"),
            Key("share", "1", "share of the time", low="0.001", high="1000", default="the same for every road"),
        ),
        "A road, and the speed on it",
        required=True,
        repeated=True,
    ),
    Section(
        "bump",
        (
            Key("height", "mm", "height; below 0 for a pothole", required=True, low="-500 mm", high="500 mm"),
            Key("length", "m", "length along the road", required=True, low="0.1 m", high="30 m"),
            Key("speed", "km/h", "speed over it", required=True, low="3 km/h", high="200 km/h"),
        ),
        "A single bump, one wave of a cosine",
        repeated=True,
    ),
    Section(
        "target",
        (
            Key("comfort_share", "%", "what counts: 0 % holding the road, 100 % comfort", required=True, low="0 %",
                high="100 %"),
            Key("bump_share", "%", "how much of both the bumps count, the roads the rest", low="0 %", high="100 %",
                default="30 % (assumed)"),
            Key("ride_height_drop", "mm", "how far the damper may pull the body down on these roads", low="0 mm",
                high="100 mm", default="a tenth of the bump travel (assumed)"),
            Key("least_level", "1", "least damping of the body, as a share of critical, for roll and pitch, which one "
                "wheel does not show", low="0.1", high="0.8", default="0.2 (assumed: common practice, no source)"),
            Key("least_ratio", "1", "least slope in rebound over that in compression", low="0.3", high="10",
                default="1"),
            Key("most_ratio", "1", "most slope in rebound over that in compression", low="0.3", high="10",
                default="4 (assumed)"),
            Key("speeds", "m/s", "speeds of the table, at the damper", type="quantities", low="0.01 m/s",
                high="5 m/s", default="0.05, 0.13, 0.26, 0.52 and 1.04 m/s (usual rig speeds)"),
            Key("rebound_tolerance", "%", "tolerance of the forces in rebound", low="1 %", high="50 %",
                default="10 % (assumed: common practice, no source)"),
            Key("compression_tolerance", "%", "tolerance of the forces in compression", low="1 %", high="50 %",
                default="12 % (assumed: common practice, no source)"),
            Key("least_tolerance", "N", "least tolerance of a force", low="1 N", high="500 N",
                default="30 N (assumed: common practice, no source)"),
            Key("gas_force", "N", "force by which the gas pushes the rod out, which the rig reads with the damping",
                low="0 N", high="3000 N", default="0 N (the table holds the damping alone)"),
            Key("friction", "N", "friction of seal and guide, which the rig reads with the damping", low="0 N",
                high="500 N", default="0 N (the table holds the damping alone)"),
        ),
        "What counts, and how the table is written",
        required=True,
    ),
)  # fmt: skip
