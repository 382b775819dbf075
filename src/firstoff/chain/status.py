"""What became of one build in one station."""

from __future__ import annotations

from enum import IntFlag


class Status(IntFlag):
    """Per build and station; flags add up. Stored as uint8 arrays."""

    OK = 0
    OUT_OF_RANGE = 1  # a parameter or result left the range in which the model holds
    NOT_CONVERGED = 2
    CAVITATING = 4  # a chamber fell to vapour or foam pressure
    NO_VALUE = 128  # nothing usable came out: such a build counts against every rate


def describe(flags: int) -> str:
    """Plain words for a combination of flags: `cavitating, out of range`."""
    names = [flag.name.lower().replace("_", " ") for flag in Status if flag and flags & flag and flag.name]
    return ", ".join(names) or "ok"
