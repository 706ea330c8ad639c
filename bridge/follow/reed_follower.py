"""Our follower: hops to frames through level, articulation, pitch, clean and bright."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from bridge.base.events import AudioBlock, PitchFrame
from bridge.base.units import SILENCE_DB
from bridge.follow.articulation import Articulation
from bridge.follow.follower import Hops
from bridge.follow.level import Level
from bridge.follow.loudness import Loudness
from bridge.follow.own import Likeness, OwnPitch
from bridge.follow.reedlike import Reedlike
from bridge.follow.settings import FollowSettings
from bridge.follow.timbre import Brightness, cleanness
from bridge.follow.two_reeds import TwoReeds
from bridge.follow.upsampling import Upsampler

Array = NDArray[np.float64]

#: Hops worked on at once, so that a long block of a file costs little memory.
_BATCH = 256
#: The hop at 48 kHz, in samples; other rates take the same time.
_HOP_AT_48K = 64
#: Samples a second of what is looked at, at least: the highest notes need more than ten a period.
_LEAST_RATE = 40000


def hop_at(rate: int) -> int:
    """Samples from frame to frame at ``rate`` Hz: 64 at 48 kHz, the same time at any other rate."""
    return max(8, round(_HOP_AT_48K * rate / 48000))


class ReedFollower:
    """Follows one reed at a time in a stream of ``rate`` Hz from ``floor_hz`` up.

    A stream of few samples a second is interpolated first; that delay counts in the frames' ``time_s``. From frame to
    frame ``time_s`` moves on by half a hop at least.
    """

    def __init__(self, settings: FollowSettings, rate: int, floor_hz: float) -> None:
        self._stream_rate = rate
        self._stream_hop = hop_at(rate)
        self._hops = Hops(self._stream_hop)
        factor = math.ceil(_LEAST_RATE / rate)
        self._upsampler = Upsampler(factor) if factor > 1 else None
        self._delay_s = self._upsampler.delay / rate if self._upsampler else 0.0
        self._rate = rate * factor
        self._hop = self._stream_hop * factor
        self._articulation = Articulation(settings.gate, settings.restrike, self._hop / self._rate)
        self._level = Level(self._rate)
        self._loudness = Loudness(self._rate)
        self._brightness = Brightness(self._rate, self._hop / self._rate)
        self._reedlike = Reedlike(self._rate, floor_hz, dull=settings.dull)
        self._reeds = TwoReeds(self._rate, self._hop, floor_hz, settings.ceiling_hz)
        keep = max(self._level.breath_window, self._reedlike.keep, self._reeds.keep)
        self._pitch = OwnPitch(settings, self._rate, self._hop, floor_hz=floor_hz, keep=keep)
        self._period = 0.0
        self._span = 0.0

    def follow(self, block: AudioBlock) -> list[PitchFrame]:
        """Frames that ``block`` completes; ``block.rate`` must be the rate the follower was made for."""
        hops, first = self._hops.cut(block)
        frames: list[PitchFrame] = []
        for start in range(0, len(hops), _BATCH):
            batch = hops[start : start + _BATCH]
            frames += self._follow_batch(batch, first + start * self._stream_hop)
        return frames

    def _follow_batch(self, hops: Array, first: int) -> list[PitchFrame]:
        rows = self._pitch.prepare(self._upsampler.step(hops) if self._upsampler else hops)
        history = self._pitch.history
        loudness, power, upper = self._loudness.with_power(history.samples, history.ends)
        ready = [(first + (index + 1) * self._stream_hop) / self._stream_rate for index in range(len(rows))]
        columns = (history.ends.tolist(), loudness.tolist(), zip(power.tolist(), upper.tolist(), strict=True), ready)
        return list(map(self._frame, rows, *columns))

    def _frame(
        self, alike: Likeness, end: int, loud_db: float, powers: tuple[float, float], ready_s: float
    ) -> PitchFrame:
        """The frame of the hop that ends at ``history.samples[end]``, ready at ``ready_s`` of the stream.

        ``powers`` are those of the whole and of what lies above 5 kHz.
        """
        energy, samples = self._pitch.history.energy, self._pitch.history.samples
        window = self._level.window(self._period)
        sounding = self._articulation.step(self._level.short_db(energy, end, window), loud_db)
        if not sounding.sounds:
            self._pitch.rest()
            self._brightness.rest()
            self._reedlike.reset()
            self._reeds.rest()
            self._period = 0.0
            return PitchFrame(self._middle(ready_s, window), ready_s, 0.0, SILENCE_DB, 0.0, 0.0, 0.0)
        self._reedlike.hear(*powers)
        if sounding.attack:
            self._pitch.release()
            self._reedlike.reset()
            self._reeds.release()
        level_db = self._level.breath_db(energy, end)
        estimate = self._pitch.estimate(alike, end, sounding.age_hops * self._hop)
        searching = estimate.period <= 0.0 and self._period <= 0.0 and not sounding.attack
        self._period = estimate.period
        hz = reed = 0.0
        if estimate.period > 0.0:
            hz, span = self._rate / estimate.period, estimate.span
            reed = self._reedlike.step(samples, end, hz, estimate.likeness)
        else:
            self._reedlike.reset()
            # A search looks at what has come since it began, as will the estimate that it ends in.
            span = min(self._span + self._hop, self._pitch.span_most) if searching else window
        likeness = min(1.0, max(0.0, estimate.likeness))
        heard = self._reeds.step(samples, end, hz, cleanness(likeness))
        return PitchFrame(
            self._middle(ready_s, span),
            ready_s,
            heard.hz,
            level_db,
            max(likeness, heard.sure),
            heard.clean,
            self._brightness.step(samples, end, hz, likeness),
            sounding.attack,
            max(reed, heard.reed),
            heard.second_hz,
            heard.reeds,
        )

    def _middle(self, ready_s: float, span: float) -> float:
        """The instant that a look at the newest ``span`` samples describes.

        The span counts as growing by no more than a hop a frame, or time would stand still or go back.
        """
        self._span = min(span, self._span + self._hop)
        return ready_s - self._delay_s - self._span / 2 / self._rate
