"""The second follower: the pitch methods of the aubio library, behind the level, gate and articulation of our own."""

from __future__ import annotations

import aubio
import numpy as np
from numpy.typing import NDArray

from bridge.base.events import AudioBlock, PitchFrame
from bridge.base.units import SILENCE_DB
from bridge.follow.articulation import Articulation
from bridge.follow.conditioning import Conditioner
from bridge.follow.follower import Hops
from bridge.follow.level import Level, LevelHistory
from bridge.follow.loudness import Loudness
from bridge.follow.settings import FollowSettings
from bridge.follow.timbre import Brightness, cleanness

Array = NDArray[np.float64]

#: The methods whose confidence is a likeness; the others report one below 0 or always 0 for clear notes (measured).
_TELL_CONFIDENCE = ("yin", "yinfast")


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
        self._tells_confidence = chosen.method in _TELL_CONFIDENCE
        self._conditioner = Conditioner(rate, chosen.hop, high_pass_hz=0.45 * floor_hz, low_pass_hz=9000.0)
        self._level = Level(rate)
        self._loudness = Loudness(rate)
        self._brightness = Brightness(rate, chosen.hop / rate)
        self._history = LevelHistory(
            max(self._loudness.window, 2 * self._level.breath_window + int(2.0 * rate / floor_hz) + 4)
        )
        self._articulation = Articulation(settings.gate, settings.restrike, chosen.hop / rate)
        self._period = 0.0

    def follow(self, block: AudioBlock) -> list[PitchFrame]:
        """Frames that ``block`` completes."""
        hops, first = self._hops.cut(block)
        quiet = self._conditioner.step(hops)
        return [
            self._frame(hop, clean, first + (index + 1) * len(hop))
            for index, (hop, clean) in enumerate(zip(hops, quiet, strict=True))
        ]

    def _frame(self, hop: Array, conditioned: Array, stream_end: int) -> PitchFrame:
        ready_s = stream_end / self._rate
        time_s = ready_s - self._window / 2 / self._rate
        history = self._history
        history.push(conditioned)
        energy, end = history.energy, history.end
        loud_db = float(self._loudness.at(history.samples, np.array([end]))[0])
        sounding = self._articulation.step(self._level.short_db(energy, end, self._level.window(self._period)), loud_db)
        # The library must hear every hop, or its window would join what lies apart.
        hz = float(self._pitch(hop.astype(np.float32))[0])
        self._period = 0.0
        if not sounding.sounds:
            self._brightness.rest()
            return PitchFrame(time_s, ready_s, 0.0, SILENCE_DB, 0.0, 0.0, 0.0)
        level_db = self._level.breath_db(energy, end)
        if not self._floor_hz <= hz <= self._ceiling_hz:
            return PitchFrame(time_s, ready_s, 0.0, level_db, 0.0, 0.0, 0.0, sounding.attack)
        self._period = self._rate / hz
        confidence = min(1.0, max(0.0, float(self._pitch.get_confidence()))) if self._tells_confidence else 1.0
        bright = self._brightness.step(history.samples, end, hz, confidence)
        return PitchFrame(time_s, ready_s, hz, level_db, confidence, cleanness(confidence), bright, sounding.attack)
