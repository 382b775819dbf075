"""Property tests draw the same cases in every ordinary run; `make soak` draws many more, and fresh ones."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

settings.register_profile(
    "ordinary", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow], max_examples=60
)
settings.register_profile("soak", deadline=None, suppress_health_check=[HealthCheck.too_slow], max_examples=3000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ordinary"))
