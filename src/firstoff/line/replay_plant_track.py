"""Replay the cranes of a plant along the track: driven with their speed and acceleration, never nearer than allowed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from firstoff.line.crane_paths import least_distance, paths
from firstoff.line.plant_line import PlantLine

CLOSE = 1e-4  # m: rounding of the ways' square roots


def track_faults(line: PlantLine, trips: Sequence[Any], start: dict[int, float] | None = None) -> list[str]:
    """Both cranes driven along the track with their speed and acceleration: how near they come at any instant."""
    ways, faults = paths(line, trips, start)
    for low in range(len(ways)):
        for high in range(low + 1, len(ways)):
            apart = float(line.separation) * (high - low)
            distance, when = least_distance(ways[low], ways[high])
            if distance < apart - CLOSE:
                names = f"{line.cranes[low].name} and {line.cranes[high].name}"
                faults.append(f"{names} come as near as {distance:.2f} m at {when:.1f} s, less than {apart:g} m")
    for crane, way in zip(line.cranes, ways, strict=True):
        for piece in way:
            for x in (piece.at(piece.begin), piece.at(piece.end)):
                if (crane.low is not None and x < float(crane.low) - CLOSE) or (
                    crane.high is not None and x > float(crane.high) + CLOSE
                ):
                    faults.append(f"{crane.name} would have to go beyond its reach to make way")
    return list(dict.fromkeys(faults))
