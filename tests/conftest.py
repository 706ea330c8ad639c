"""What every test shares."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

# A loaded machine may be slow: deadlines of single examples would only measure that.
settings.register_profile("steady", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "steady"))
