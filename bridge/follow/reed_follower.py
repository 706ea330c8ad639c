"""Our follower: hops to frames through level, articulation, pitch, clean and bright."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from bridge.base.events import AudioBlock, PitchFrame
from bridge.base.units import SILENCE_DB, power_to_db
from bridge.follow.articulation import Articulation
from bridge.follow.follower import Hops
from bridge.follow.own import OwnPitch
from bridge.follow.settings import FollowSettings
from bridge.follow.timbre import brightness, cleanness

Array = NDArray[np.float64]

#: Hops worked on at once, so that a long block of a file costs little memory.
_BATCH = 256
#: The level that breath is made of is averaged this long, in seconds: longer than a low reed's period.
_BREATH_S = 0.01
#: The hop at 48 kHz, in samples; other rates take the same time.
_HOP_AT_48K = 64


def hop_at(rate: int) -> int:
    """Samples from frame to frame at ``rate`` Hz: 64 at 48 kHz, the same time at any other rate."""
    return max(8, round(_HOP_AT_48K * rate / 48000))


class ReedFollower:
    """Follows one reed at a time in a stream of ``rate`` Hz from ``floor_hz`` up."""

    def __init__(self, settings: FollowSettings, rate: int, floor_hz: float) -> None:
        self._rate = rate
        self._hop = hop_at(rate)
        self._hops = Hops(self._hop)
        self._articulation = Articulation(settings.gate, settings.restrike, self._hop / rate)
        self._plain_window = round(0.005 * rate)
        self._breath_window = round(_BREATH_S * rate)
        self._pitch = OwnPitch(settings, rate, self._hop, floor_hz=floor_hz, keep=self._breath_window)
        self._period = 0.0

    def follow(self, block: AudioBlock) -> list[PitchFrame]:
        """Frames that ``block`` completes; ``block.rate`` must be the rate the follower was made for."""
        hops, first = self._hops.cut(block)
        frames: list[PitchFrame] = []
        for start in range(0, len(hops), _BATCH):
            batch = hops[start : start + _BATCH]
            frames += self._follow_batch(batch, first + start * self._hop)
        return frames

    def _follow_batch(self, hops: Array, first: int) -> list[PitchFrame]:
        rows = self._pitch.prepare(hops)
        ends = self._pitch.history.ends.tolist()
        offset = first - ends[0] + self._hop
        return [self._frame(row, end, offset + end) for row, end in zip(rows, ends, strict=True)]

    def _frame(self, row: Array, end: int, stream_end: int) -> PitchFrame:
        """The frame of the hop that ends at ``history.samples[end]``, sample ``stream_end`` of the stream."""
        ready_s = stream_end / self._rate
        energy, samples = self._pitch.history.energy, self._pitch.history.samples
        window = self._level_window()
        sounding = self._articulation.step(power_to_db(float(energy[end] - energy[end - window]) / window))
        if not sounding.sounds:
            self._pitch.release()
            self._period = 0.0
            return PitchFrame(ready_s - window / 2 / self._rate, ready_s, 0.0, SILENCE_DB, 0.0, 0.0, 0.0)
        if sounding.attack:
            self._pitch.release()
        breath = self._breath_window
        level_db = power_to_db(float(energy[end] - energy[end - breath]) / breath)
        estimate = self._pitch.estimate(row, end, sounding.age_hops * self._hop)
        self._period = estimate.period
        if estimate.period <= 0.0:
            time_s = ready_s - window / 2 / self._rate
            return PitchFrame(time_s, ready_s, 0.0, level_db, 0.0, 0.0, 0.0, sounding.attack)
        hz = self._rate / estimate.period
        return PitchFrame(
            ready_s - estimate.span / 2 / self._rate,
            ready_s,
            hz,
            level_db,
            min(1.0, max(0.0, estimate.likeness)),
            cleanness(estimate.likeness),
            brightness(samples[end - self._breath_window : end], self._rate, hz),
            sounding.attack,
        )

    def _level_window(self) -> int:
        """Samples of the short level: whole periods when the period is known, so that it does not ripple."""
        if self._period <= 0.0:
            return self._plain_window
        return round(self._period * max(1, math.ceil(2 * self._hop / self._period)))
