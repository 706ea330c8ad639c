"""One stretch of a note sung anew: pitch, length and breath as they are wanted, fitted to what stands around it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.base.units import CENTS_PER_OCTAVE, MIDI_A4_NOTE
from bridge.takes.joins import late_by, level_again, rise
from bridge.takes.psola import Longer, Singer
from bridge.takes.resinging_plan import Stretch, breath, cents
from bridge.takes.sound_reading import SampleFile

Floats = NDArray[np.float64]

#: Where another note or silence is next to it, a stretch is faded over this, in seconds.
FADE_S = 0.004
#: Inside a note it is faded over so many periods.
_FADE_PERIODS = 3.0
#: Sound around a stretch that is looked at with it: some periods of the note, in seconds at least this.
_MARGIN_S, _MARGIN_PERIODS = 0.06, 8.0
#: The pitch is looked for this far, as a ratio, around what the tables say it was.
_PITCH_MARGIN = 1.35
#: A sound that lies further than this from the played curve is another one than the table means, in cents: an octave
#: that was mistaken, a reed that does not speak yet. It is moved by as much as the curve was.
_STRANGE_CENTS = 50.0
#: An edit inside a note ends with its vibrations where those of the player are. What is missing for that is made up
#: by this much pitch, in cents; the rest is shared between its two ends.
_PHASE_CENTS = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """Samples, full scale +-1, that sound from sample ``begin`` on, their fades done."""

    begin: int
    samples: Floats

    @property
    def end(self) -> int:
        """The sample after the last one."""
        return self.begin + len(self.samples)


class Voice:
    """Sings stretches of ``sound``.

    ``a4_hz`` gives the pitch of A4 at a moment of the take, ``breath_db`` is how much louder breath 1 is than breath 0.
    ``unheard`` counts the stretches in which Praat heard no pitch: they sound as they were played.
    """

    def __init__(self, sound: SampleFile, a4_hz: Callable[[float], float], breath_db: float) -> None:
        self._sound, self._a4_hz, self._breath_db = sound, a4_hz, breath_db
        self.unheard = 0

    def fade(self, stretch: Stretch, *, joins: bool) -> int:
        """Samples over which an end of the stretch is faded: one inside a note, or another."""
        highest_hz = self._span_hz(stretch)[1]
        fade_s = min(_FADE_PERIODS / highest_hz, (stretch.until_s - stretch.at_s) / 3) if joins else FADE_S
        return round(fade_s * self._sound.rate)

    def piece(self, stretch: Stretch, end: int, after: int) -> Piece:
        """The stretch up to sample ``end`` of the take; ``after`` it the next begins, over which it is faded (or 0)."""
        rate = self._sound.rate
        begin, first = round(stretch.at_s * rate), round(stretch.from_s * rate)
        count, last = end - begin + after, round(stretch.to_s * rate)
        lowest_hz = self._span_hz(stretch)[0]
        margin = round(max(_MARGIN_S, _MARGIN_PERIODS / lowest_hz) * rate)
        heard = self._sound.samples(first - margin, max(last, first + count) + margin)
        sung, late = heard, 0
        if stretch.sung:
            sung, late = _Sung(stretch, heard, (first - margin) / rate, self).fitted(margin, margin + last - first)
        samples = _cut(sung, margin - late, count) * self._gain(stretch, count)
        fade = min(self.fade(stretch, joins=stretch.joins_before), count // 2)
        samples[:fade] *= rise(fade)
        fade = min(after or self.fade(stretch, joins=stretch.joins_after), count // 2)
        samples[count - fade :] *= rise(fade)[::-1]
        return Piece(begin, samples)

    def singer(self, stretch: Stretch, heard: Floats) -> Singer:
        """What can sing the sound ``heard``, which holds the stretch."""
        lowest_hz, highest_hz = self._span_hz(stretch)
        return Singer(heard, self._sound.rate, lowest_hz / _PITCH_MARGIN, highest_hz * _PITCH_MARGIN)

    def hz(self, cents_up: Floats, at_s: float) -> Floats:
        """The pitch of cents above MIDI note 0 at a moment of the take."""
        above = cents_up - 100.0 * MIDI_A4_NOTE
        return np.asarray(self._a4_hz(at_s) * np.exp2(above / CENTS_PER_OCTAVE), np.float64)

    @property
    def rate(self) -> int:
        """Samples a second."""
        return self._sound.rate

    def _span_hz(self, stretch: Stretch) -> tuple[float, float]:
        """The lowest and the highest pitch of the note as it was played."""
        note = stretch.played
        curve = self.hz(cents(note, note.columns[0]), note.start_s)
        return float(np.min(curve)), float(np.max(curve))

    def _gain(self, stretch: Stretch, count: int) -> Floats:
        """What makes the played breath the wanted one, at each of ``count`` samples of the stretch."""
        since_s = stretch.at_s + np.arange(count) / self.rate - stretch.wanted.start_s
        more = breath(stretch.wanted, since_s) - breath(stretch.played, stretch.came_from(since_s))
        return np.asarray(10.0 ** (more * self._breath_db / 20.0))


class _Sung:
    """A stretch while it is sung; ``heard`` is its sound with a margin, from second ``from_s`` of the take on."""

    def __init__(self, stretch: Stretch, heard: Floats, from_s: float, voice: Voice) -> None:
        self._stretch, self._heard, self._rate = stretch, heard, voice.rate
        self._singer = voice.singer(stretch, heard)
        self._longer = self._held_longer(from_s)
        times_s = from_s + self._singer.times_s
        self._inside = (times_s >= stretch.from_s) & (times_s < stretch.to_s)
        self._is_heard = bool(np.any(self._inside))
        voice.unheard += not self._is_heard
        self._hz = self._wanted_hz(times_s, from_s, voice)

    def fitted(self, begin: int, end: int) -> tuple[Floats, int]:
        """The sung sound at the level that was heard, and by how many samples it must be moved to fit.

        ``begin`` and ``end`` are the samples of ``heard`` between which the stretch lies.
        """
        stretch, sung = self._stretch, self._sing(1.0)
        if not self._is_heard:
            return sung, 0
        if stretch.joins_before and stretch.joins_after:
            sung = self._sing(self._factor(sung, begin, end))
            first, last, period = *self._early(sung, begin, end), self._period(end)
            return sung, round(first + _wrapped(last - first, period) / 2.0)
        if stretch.joins_before:
            return sung, self._early(sung, begin, end)[0]
        return sung, self._early(sung, begin, end)[1] if stretch.joins_after else 0

    def _factor(self, sung: Floats, begin: int, end: int) -> float:
        """What the pitch is multiplied with so that vibrations that fit at the beginning fit at the end too."""
        first, last = self._early(sung, begin, end)
        missing = -_wrapped(last - first, self._period(end)) / self._period(end)
        cycles = float(np.mean(self._hz[self._inside])) * (end - begin) / self._rate
        cents_up = CENTS_PER_OCTAVE * np.log2(1.0 + abs(missing) / max(cycles, 1.0))
        return float(2.0 ** (np.sign(missing) * min(_PHASE_CENTS, cents_up) / CENTS_PER_OCTAVE))

    def _sing(self, factor: float) -> Floats:
        """All of the sound, the pitch inside the stretch times ``factor``, at the level that was heard."""
        if not self._is_heard:
            return self._heard
        sung = self._singer.sing(np.where(self._inside, self._hz * factor, self._hz), self._longer)
        where = np.arange(len(self._heard), dtype=np.float64)
        if self._longer is not None:
            came_s = self._longer.after(where / self._rate)
            where = np.interp(np.arange(round(came_s[-1] * self._rate)), came_s * self._rate, where)
        sung = _cut(sung, 0, len(where))
        return level_again(sung, self._heard[where.astype(np.intp)], self._rate)

    def _early(self, sung: Floats, begin: int, end: int) -> tuple[int, int]:
        """By how many samples the vibrations sung come early, at the beginning of the stretch and at its end."""
        early = []
        for at, side in ((begin, 0.0), (end, -1.0)):
            period = self._period(at)
            half, span = round(period / 2), round(_FADE_PERIODS * period)
            start = max(0, round(at + side * span) - half)
            window = slice(start, start + span + 2 * half)
            early.append(late_by(sung[window], self._heard[window], half))
        return early[0], early[1]

    def _period(self, at: int) -> float:
        """Samples of a period where it was heard nearest to a sample."""
        nearest = int(np.argmin(np.abs(self._singer.times_s * self._rate - at))) if len(self._singer.hz) else -1
        return self._rate / float(self._singer.hz[nearest]) if nearest >= 0 else 2.0

    def _held_longer(self, from_s: float) -> Longer | None:
        """What of the note is drawn out: all behind its attack."""
        stretch = self._stretch
        if stretch.grown_s <= 0.0:
            return None
        start_s, end_s = stretch.played.start_s - from_s, stretch.played.end_s - from_s
        held_s = stretch.played.length_s - stretch.attack_s
        return Longer(start_s + stretch.attack_s, end_s, (held_s + stretch.grown_s) / held_s)

    def _wanted_hz(self, times_s: Floats, from_s: float, voice: Voice) -> Floats:
        """The pitch to sing at moments of the sound as it was played: the wanted curve, outside it what was heard."""
        played, wanted = self._stretch.played, self._stretch.wanted
        since_s = times_s - played.start_s
        then_s = since_s if self._longer is None else self._longer.after(times_s - from_s) + from_s - played.start_s
        was, shall_be = cents(played, since_s), cents(wanted, then_s)
        heard_hz = self._singer.hz
        strange = np.abs(CENTS_PER_OCTAVE * np.log2(heard_hz / voice.hz(was, played.start_s))) > _STRANGE_CENTS
        moved = heard_hz * np.exp2((shall_be - was) / CENTS_PER_OCTAVE)
        in_note = (since_s >= 0.0) & (since_s < played.length_s) & ~strange
        sung = np.where(in_note, voice.hz(shall_be, played.start_s), moved)
        return np.where(self._inside, sung, heard_hz)


def _wrapped(samples: float, period: float) -> float:
    """The same place in a period, within half of one."""
    return samples - period * round(samples / period)


def _cut(samples: Floats, begin: int, count: int) -> Floats:
    """``count`` samples from ``begin`` on, silence where there are none."""
    whole = np.zeros(count)
    part = samples[max(begin, 0) : max(begin + count, 0)]
    whole[max(-begin, 0) : max(-begin, 0) + len(part)] = part
    return whole
