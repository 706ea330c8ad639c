"""The follower is no worse than when its figures were recorded."""

from __future__ import annotations

import json
from pathlib import Path

from bench.recording import measured, worse
from bridge.follow.settings import FollowSettings

_RECORDED = Path(__file__).parent / "recorded.json"


def test_lag_and_errors_have_not_grown() -> None:
    """On the recorded sounds no lag, gross, octave or note error has grown by more than its noise."""
    assert worse(measured(), json.loads(_RECORDED.read_text(encoding="utf-8"))) == []


def test_a_slower_follower_is_noticed() -> None:
    """A window of six periods and 16 ms, planted, is told by its lag."""
    slow = measured(FollowSettings(window_periods=6.0, window_ms=16.0), ["clean"])
    named = {line.split(":")[0] for line in worse(slow, json.loads(_RECORDED.read_text(encoding="utf-8")))}
    assert {"clean, lag 175-390", "clean, lag 390-1000", "clean, lag 1000-3300"} <= named
