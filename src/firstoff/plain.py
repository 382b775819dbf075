"""Results as JSON can hold them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any


def plain(value: Any) -> Any:
    """Values as JSON allows them: no NaN, no infinity, no array; `None` stands for a number that is not there."""
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(v) for v in value]
    if isinstance(value, bool) or value is None or isinstance(value, (str, int)):
        return value
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return str(value)
