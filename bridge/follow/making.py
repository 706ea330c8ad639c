"""Making the follower that the settings name."""

from __future__ import annotations

from bridge.follow.aubio_follower import AubioFollower
from bridge.follow.follower import Follower
from bridge.follow.reed_follower import ReedFollower
from bridge.follow.settings import FollowSettings

_LOWEST_HZ = 80.0


def make_follower(settings: FollowSettings, rate: int, floor_hz: float) -> Follower:
    """Follower for a stream of ``rate`` Hz; ``floor_hz`` counts where the settings leave the floor to the harp."""
    floor = floor_of(settings, floor_hz)
    if settings.follower == "aubio":
        return AubioFollower(settings, rate, floor)
    return ReedFollower(settings, rate, floor)


def floor_of(settings: FollowSettings, floor_hz: float) -> float:
    """The lowest pitch followed, in Hz: ``floor_hz`` where the settings leave it to the harp."""
    return max(_LOWEST_HZ, floor_hz if settings.floor_hz == "auto" else settings.floor_hz)


def window_delay_s(settings: FollowSettings, rate: int, hz: float) -> float:
    """How long the pitch of a steady note at ``hz`` is behind it by the settings alone: half of what is looked at."""
    if settings.follower == "aubio":
        return settings.aubio.window / rate / 2.0
    return max(settings.window_ms / 1000.0, settings.window_periods / hz) / 2.0
