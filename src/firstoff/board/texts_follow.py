"""What the board says of running lots."""

from __future__ import annotations

TEXTS: dict[str, str] = {}
