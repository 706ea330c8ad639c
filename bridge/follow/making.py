"""Making the follower that the settings name."""

from __future__ import annotations

from bridge.follow.aubio_follower import AubioFollower
from bridge.follow.follower import Follower
from bridge.follow.reed_follower import ReedFollower
from bridge.follow.settings import FollowSettings

_LOWEST_HZ = 80.0


def make_follower(settings: FollowSettings, rate: int, floor_hz: float) -> Follower:
    """Follower for a stream of ``rate`` Hz; ``floor_hz`` counts where the settings leave the floor to the harp."""
    floor = floor_hz if settings.floor_hz == "auto" else settings.floor_hz
    floor = max(_LOWEST_HZ, floor)
    if settings.follower == "aubio":
        return AubioFollower(settings, rate, floor)
    return ReedFollower(settings, rate, floor)
