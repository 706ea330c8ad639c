"""The second follower: the pitch methods of the aubio library, behind our gate and articulation."""

from __future__ import annotations

import aubio
import numpy as np
from numpy.typing import NDArray

from bridge.base.events import AudioBlock, PitchFrame
from bridge.base.units import SILENCE_DB, power_to_db
from bridge.follow.articulation import Articulation
from bridge.follow.follower import Hops
from bridge.follow.settings import FollowSettings
from bridge.follow.timbre import brightness, cleanness

Array = NDArray[np.float64]


class AubioFollower:
    """Frames from ``aubio.pitch``; its estimate describes the middle of its window."""

    def __init__(self, settings: FollowSettings, rate: int, floor_hz: float) -> None:
        chosen = settings.aubio
        self._rate = rate
        self._floor_hz = floor_hz
        self._ceiling_hz = settings.ceiling_hz
        self._hops = Hops(chosen.hop)
        self._window = chosen.window
        self._pitch = aubio.pitch(chosen.method, chosen.window, chosen.hop, rate)
        self._pitch.set_unit("Hz")
        self._articulation = Articulation(settings.gate, settings.restrike, chosen.hop / rate)

    def follow(self, block: AudioBlock) -> list[PitchFrame]:
        """Frames that ``block`` completes."""
        hops, first = self._hops.cut(block)
        return [self._frame(hop, first + (index + 1) * len(hop)) for index, hop in enumerate(hops)]

    def _frame(self, hop: Array, stream_end: int) -> PitchFrame:
        ready_s = stream_end / self._rate
        time_s = ready_s - self._window / 2 / self._rate
        level_db = power_to_db(float(hop @ hop) / len(hop))
        sounding = self._articulation.step(level_db)
        hz = float(self._pitch(hop.astype(np.float32))[0])
        if not sounding.sounds:
            return PitchFrame(time_s, ready_s, 0.0, SILENCE_DB, 0.0, 0.0, 0.0)
        if not self._floor_hz <= hz <= self._ceiling_hz:
            return PitchFrame(time_s, ready_s, 0.0, level_db, 0.0, 0.0, 0.0, sounding.attack)
        confidence = min(1.0, max(0.0, float(self._pitch.get_confidence())))
        bright = brightness(hop, self._rate, hz)
        return PitchFrame(time_s, ready_s, hz, level_db, confidence, cleanness(confidence), bright, sounding.attack)
