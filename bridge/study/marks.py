"""The marks of one note: where it began and settled, how it was released, how steady, clean and in time it was.

Conventions: times in seconds; unless it says so, since the note's own start. Cents are above the root, brought to the
octave from 50 cents below it, so that a third reads the same wherever it is played. What a mark means does not hang on
tempo or key: a note that is played twice as slowly has the same cents and twice the times.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.base.units import CENTS_PER_OCTAVE
from bridge.study.glides import HELD_S, Glide, Hold, find_glides, find_holds
from bridge.study.note_frames import NoteFrames
from bridge.study.vibrato import Vibrato, find_vibrato

Floats = NDArray[np.float64]

#: The octave that every note is brought to begins so far under the root, cents.
_OCTAVE_FROM = -50.0
_STEP_S = 0.004
#: While a reed begins to speak it has no pitch of its own yet, seconds.
_SPEAKING_S = 0.015
#: A free reed has spoken by then (Cottingham & Wolff 2015: attacks of 10 to 60 ms, the times from memory): where the
#: pitch is there, it began. About that moment it is averaged over so much to either side, seconds.
SPOKEN_S, _ABOUT_S = 0.06, 0.008
#: The breath has been taken away where the level lies this far under the note's own, dB; and the last moment of a note
#: says nothing, seconds.
_GONE_DB, _LAST_S = 15.0, 0.02
#: A glide of the vibrato itself takes no more than so many of its swings.
_SWING_MOST = 1.5
#: A single frame that stands out so far from those about it is a slip of the follower, cents.
_SLIP_CENTS = 25.0
#: A hold of this part of the longest is about as long.
_AS_LONG = 0.75
#: What rises by less than this was not let go of on purpose, cents. Where at least this part of the note comes from
#: then on, it settled there, however short it was held; less is only how it ends.
LET_GO_CENTS = 30.0
_SETTLED_PART = 1.0 / 3.0
#: Less clean than this two holes sound, 0..1; for so much of the note at least, or for so long, seconds.
CLEAN_LEAST = 0.5
_TWO_HOLES_PART, _TWO_HOLES_S = 0.25, 0.1


@dataclass(frozen=True, slots=True)
class Beat:
    """Where the beats are: one at ``first_s`` of the stream, and one every ``period_s``.

    ``delay_s`` is how much later than the player hears a beat its answer arrives in the stream: loudspeaker and
    microphone together, as measured.
    """

    first_s: float
    period_s: float
    delay_s: float = 0.0

    def at(self, beats: float) -> float:
        """When what is played ``beats`` after the first beat arrives in the stream, in seconds."""
        return self.first_s + beats * self.period_s + self.delay_s

    def late_s(self, time_s: float) -> float:
        """How far ``time_s`` of the stream lies behind the nearest beat, negative before it."""
        beats = (time_s - self.delay_s - self.first_s) / self.period_s
        return (beats - math.floor(beats + 0.5)) * self.period_s


@dataclass(frozen=True, slots=True)
class NoteMarks:
    """What one note was like.

    ``start_s`` is of the stream, ``length_s`` from attack to end. ``begin_cents`` is where the pitch was when the reed
    spoke, ``settle_cents`` where it came to and was held longest, reached ``settle_s`` after the start; ``release`` its
    widest glide upwards, None when there is none. ``low_cents`` and ``high_cents`` are its lowest and highest place,
    vibrato left out. ``steady_cents`` is how far it strayed where it had settled (one standard deviation), without its
    vibrato. ``clean`` is the part of the note, 0..1, in which one reed sounded alone, ``two_holes`` whether a second
    was heard in it. ``level_db`` is its usual level, dBFS; ``late_s`` how far it began behind its beat, None without.
    ``longest_cents`` is where it was held longest, wherever it was let go to; None where that is not known.
    """

    start_s: float
    length_s: float
    begin_cents: float
    settle_cents: float
    settle_s: float
    release: Glide | None
    low_cents: float
    high_cents: float
    steady_cents: float
    vibrato: Vibrato | None
    clean: float
    two_holes: bool
    level_db: float
    late_s: float | None = None
    longest_cents: float | None = None


def marks_of(frames: NoteFrames, beat: Beat | None = None, *, clean_least: float = CLEAN_LEAST) -> NoteMarks | None:
    """The marks of a note; None where hardly any pitch was heard. ``clean_least`` is less clean than one reed is."""
    curve = note_curve(frames)
    if curve is None:
        return None
    time_s, cents = curve
    spoken = int(np.searchsorted(time_s, SPOKEN_S)) if time_s[-1] - SPOKEN_S > HELD_S else 0
    vibrato, slow_after = find_vibrato(time_s[spoken:], cents[spoken:])
    slow = np.concatenate((cents[:spoken], slow_after))
    glides = [glide for glide in find_glides(time_s, slow, SPOKEN_S) if not _is_swing(glide, vibrato, time_s, slow)]
    holds = find_holds(time_s, slow, glides, SPOKEN_S)
    upward = [glide for glide in glides if glide.rise_cents > 0.0 and glide.end_s > SPOKEN_S + HELD_S]
    release = max(upward, key=lambda glide: glide.rise_cents, default=None)
    longest = _settled(time_s, slow, glides, holds)
    settled = _let_go_to(release, time_s, holds) or longest
    low, high = np.percentile(slow[spoken:], (2.0, 98.0))
    clean, two_holes = _clean(frames, clean_least)
    return NoteMarks(
        frames.start_s,
        frames.end_s - frames.start_s,
        begin_cents=_begun(time_s, slow, holds),
        settle_cents=settled.cents,
        settle_s=settled.start_s if settled.start_s > float(time_s[0]) else 0.0,
        release=release,
        low_cents=float(low),
        high_cents=float(high),
        steady_cents=settled.spread_cents,
        vibrato=vibrato,
        clean=clean,
        two_holes=two_holes,
        level_db=float(np.median(frames.level_db)),
        late_s=None if beat is None else beat.late_s(frames.start_s),
        longest_cents=longest.cents,
    )


def note_curve(frames: NoteFrames) -> tuple[Floats, Floats] | None:
    """What marks are measured from: evenly spaced times since the note's start, and the cents there, each (n,).

    They are of while reed and breath sound, in the octave of :class:`NoteMarks`; None where hardly any pitch was heard.
    """
    since_s = frames.time_s - frames.start_s
    heard = np.isfinite(frames.cents) & (since_s >= _SPEAKING_S)
    heard &= since_s <= frames.end_s - frames.start_s - _LAST_S
    if np.count_nonzero(heard) < 2:
        return None
    heard &= frames.level_db >= np.median(frames.level_db[heard]) - _GONE_DB
    since_s, cents = since_s[heard], frames.cents[heard]
    if len(since_s) < 2 or since_s[-1] - since_s[0] < 2.0 * _STEP_S:
        return None
    about = np.median(np.lib.stride_tricks.sliding_window_view(np.pad(cents, 2, mode="reflect"), 5), axis=1)
    kept = np.abs(cents - about) <= _SLIP_CENTS
    if not np.any(kept):
        return None
    cents = cents - CENTS_PER_OCTAVE * np.floor((np.median(cents) - _OCTAVE_FROM) / CENTS_PER_OCTAVE)
    time_s = np.arange(float(since_s[0]), float(since_s[-1]), _STEP_S)
    return time_s, np.interp(time_s, since_s[kept], cents[kept])


def _is_swing(glide: Glide, vibrato: Vibrato | None, time_s: Floats, slow: Floats) -> bool:
    """Whether a glide is only how the vibrato begins or ends: as short as a swing, near its edge, and back again."""
    if vibrato is None or glide.length_s * vibrato.rate_hz >= _SWING_MOST:
        return False
    swing_s = 1.0 / vibrato.rate_hz
    if glide.end_s < vibrato.start_s - swing_s or glide.start_s > vibrato.start_s + vibrato.length_s + swing_s:
        return False
    before, after = np.interp((glide.start_s - swing_s, glide.end_s + swing_s), time_s, slow)
    return abs(float(after - before)) < 0.5 * abs(glide.rise_cents)


def _begun(time_s: Floats, slow: Floats, holds: list[Hold]) -> float:
    """Where the pitch was when the reed had spoken: what was held from then on, or where it was on its way."""
    for hold in holds:
        if hold.start_s <= SPOKEN_S <= hold.start_s + hold.length_s:
            return hold.cents
    near = np.abs(time_s - SPOKEN_S) <= _ABOUT_S
    if np.count_nonzero(near) < 3:
        return float(slow[-1])
    return float(np.polyval(np.polyfit(time_s[near] - SPOKEN_S, slow[near], 1), 0.0))


def _let_go_to(release: Glide | None, time_s: Floats, holds: list[Hold]) -> Hold | None:
    """Where a note that was let go of came to: what was held longest from then on; None where it was not let go of."""
    if release is None or release.rise_cents < LET_GO_CENTS:
        return None
    first_s, last_s = float(time_s[0]), float(time_s[-1])
    if last_s - release.start_s < _SETTLED_PART * (last_s - first_s):
        return None
    after = [hold for hold in holds if hold.start_s >= release.end_s]
    if after:
        return _longest(after)
    spread_cents = _longest(holds).spread_cents if holds else 0.0
    return Hold(release.to_cents, min(release.end_s, last_s), 0.0, spread_cents)


def _longest(holds: list[Hold]) -> Hold:
    """The longest of them; of two about as long the later."""
    longest_s = max(hold.length_s for hold in holds)
    return [hold for hold in holds if hold.length_s >= _AS_LONG * longest_s][-1]


def _settled(time_s: Floats, slow: Floats, glides: list[Glide], holds: list[Hold]) -> Hold:
    """Where the pitch was held longest, of two about as long the later; where it was never held, where it came to."""
    if holds:
        return _longest(holds)
    if glides:
        return Hold(glides[-1].to_cents, min(glides[-1].end_s, float(time_s[-1])), 0.0, 0.0)
    return Hold(float(np.median(slow)), 0.0, 0.0, 0.0)


def _clean(frames: NoteFrames, clean_least: float) -> tuple[float, bool]:
    """The part of the note that is clean, and whether a second hole was heard for long enough to count."""
    since_s = frames.time_s - frames.start_s
    sounding = frames.clean[np.isfinite(frames.cents) & (since_s >= _SPEAKING_S)]
    if not len(sounding):
        return 1.0, False
    clean = float(np.mean(sounding >= clean_least))
    return clean, 1.0 - clean >= min(_TWO_HOLES_PART, _TWO_HOLES_S / max(frames.end_s - frames.start_s, _TWO_HOLES_S))
