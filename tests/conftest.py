"""What every test shares."""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile

import pytest
from hypothesis import HealthCheck, settings

from demo_run import Demo, played_once

# A loaded machine may be slow: deadlines of single examples would only measure that.
settings.register_profile("steady", deadline=None, suppress_health_check=[HealthCheck.too_slow])
# For the integration server: what fails there is the change's own, and fails again wherever it is looked for.
settings.register_profile("repeatable", settings.get_profile("steady"), derandomize=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "steady"))

# Logs and crash bundles of tests stay out of the developer's home; processes that tests start inherit it.
_STATE = tempfile.mkdtemp(prefix="reedwire-state-")
os.environ["XDG_STATE_HOME"] = _STATE
atexit.register(shutil.rmtree, _STATE, ignore_errors=True)


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    """What the demo said and left; for reading only."""
    return played_once(tmp_path_factory)
