"""A take as a stream of events that can be sent as it was played: a part of it, at any speed, once or round and round.

Beside what :mod:`bridge.takes.performed` gives there are pitch points, in the notes and in the rests, as in a live
performance: receivers that show the pitch have it, and outputs that thin know when nothing moves any more.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import count
from math import ceil

from bridge.base.errors import UserError
from bridge.base.events import Event, NoteOff, PitchPoint
from bridge.base.units import SILENCE_DB, cents_between, hz_above, midi_to_hz
from bridge.takes.edited import EditedNote
from bridge.takes.moving import at_speed, shifted
from bridge.takes.performed import STEP_S, Hearing, in_force, performed
from bridge.takes.splicing import cut

#: Points of a silence, in seconds: often enough that nobody waits for what they set going.
_SILENT_STEP_S = 0.05
#: A note goes without a point for at most so long, in seconds.
_LATE_S = 1.5 * STEP_S
_CENTS_PER_SEMITONE = 100.0
#: Slower and faster than this nothing can be learnt from.
SLOWEST, FASTEST = 0.1, 4.0


@dataclass(frozen=True, slots=True)
class Reach:
    """What of a take is sent: from one time to another, in its seconds, ``speed`` times as fast, over and over."""

    from_s: float
    to_s: float
    speed: float = 1.0
    loop: bool = False

    def __post_init__(self) -> None:
        if not 0.0 <= self.from_s < self.to_s:
            raise UserError(
                f"Nothing lies from {self.from_s:g} to {self.to_s:g} s. Let the end come after the beginning."
            )
        if not SLOWEST <= self.speed <= FASTEST:
            raise UserError(f"--speed: found {self.speed:g}, allowed: {SLOWEST:g} to {FASTEST:g}; 1 is as played.")

    @property
    def round_s(self) -> float:
        """How long it takes once, in seconds of the wall clock."""
        return (self.to_s - self.from_s) / self.speed

    def place(self, sent_s: float) -> float:
        """Where in the take it is after so many seconds of sending."""
        within = sent_s % self.round_s if self.loop else min(max(sent_s, 0.0), self.round_s)
        return self.from_s + within * self.speed


@dataclass(frozen=True, slots=True)
class Tuned:
    """From the next note on, at ``time_s``, the root lies ``sharp_cents`` above its note where A4 is 440 Hz."""

    time_s: float
    sharp_cents: float


@dataclass(frozen=True, slots=True)
class Ground:
    """What the notes of a take stand on from ``since_s`` on, in its seconds: a harp, and how it is heard.

    ``root_midi`` and ``root_hz`` are the root's note and pitch; breath 0 has the level ``floor_db``, breath 1
    ``ceiling_db``, dBFS; ``hearing`` is None where the harp is not known.
    """

    since_s: float
    root_midi: int
    root_hz: float
    floor_db: float
    ceiling_db: float
    hearing: Hearing | None

    @property
    def sharp_cents(self) -> float:
        """How far the root lies above its note where A4 is 440 Hz, in cents."""
        return cents_between(self.root_hz, midi_to_hz(self.root_midi))

    def moved(self, from_s: float, speed: float) -> Ground:
        """The same on a time that begins at ``from_s`` and runs ``speed`` times as fast."""
        since_s, hearing = (self.since_s - from_s) / speed, self.hearing
        if hearing is not None:
            hearing = replace(hearing, since_s=since_s, arrival_s=hearing.arrival_s / speed)
        return replace(self, since_s=since_s, hearing=hearing)

    def point(self, time_s: float, note: EditedNote) -> PitchPoint:
        """What is heard of a note at this time."""
        there = note.at(time_s - note.start_s)
        cents = _CENTS_PER_SEMITONE * (note.midi_note - self.root_midi) + there.bend_cents
        level_db = self.floor_db + there.breath * (self.ceiling_db - self.floor_db)
        return PitchPoint(time_s, time_s, hz_above(self.root_hz, cents), cents, level_db, 1.0)


def replayed(notes: Sequence[EditedNote], grounds: Sequence[Ground], reach: Reach) -> Iterator[Event | Tuned]:
    """The events of a part of a take, from 0 s on, in order of time; without end in a loop.

    A note that sounds where the part begins begins there, one that sounds where it ends is ended. ``grounds``, at least
    one, come in order of time; before the first note on each it is told how that is tuned. Every NoteOn gets its
    NoteOff, before the next round begins.
    """
    part = at_speed(cut(notes, reach.from_s, reach.to_s), reach.speed)
    most_id = max((note.id for note in part), default=0)
    sharp_cents: float | None = None
    for number in count() if reach.loop else range(1):
        # Times of the take as they are in this round; the notes one by one, so that no round begins with a pause.
        begin_s = number * reach.round_s
        here = [ground.moved(reach.from_s - begin_s * reach.speed, reach.speed) for ground in grounds]
        silent_s = begin_s
        for one in part:
            (note,) = shifted([one], begin_s, number * most_id)
            yield from _silence(silent_s, note.start_s)
            ground = in_force(note, here) or here[0]
            if ground.sharp_cents != sharp_cents:
                sharp_cents = ground.sharp_cents
                yield Tuned(note.start_s, sharp_cents)
            yield from _sounding(note, ground)
            silent_s = note.end_s
        yield from _silence(silent_s, begin_s + reach.round_s)


def _silence(from_s: float, to_s: float) -> Iterator[PitchPoint]:
    """Silence, from its first moment to before its last."""
    for step in range(max(1, ceil((to_s - from_s) / _SILENT_STEP_S - 1e-9)) if to_s > from_s else 0):
        time_s = from_s + step * _SILENT_STEP_S
        yield PitchPoint(time_s, time_s, 0.0, 0.0, SILENCE_DB, 0.0)


def _sounding(note: EditedNote, ground: Ground) -> Iterator[Event]:
    """The events of a note, a point before each and in between wherever none comes for a step."""
    told_s = note.start_s - STEP_S
    for event in performed([note], [] if ground.hearing is None else [ground.hearing]):
        while event.time_s - told_s > _LATE_S:
            told_s += STEP_S
            yield ground.point(told_s, note)
        if not isinstance(event, NoteOff) and event.time_s > told_s:
            told_s = event.time_s
            yield ground.point(told_s, note)
        yield event
