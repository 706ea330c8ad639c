"""What a note is meant to be, and by how much one that was played misses it.

No single cent value is right: an aim is a place from ``low`` to ``high``, and inside it nothing is missed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from bridge.base.units import CENTS_PER_OCTAVE
from bridge.study.marks import Beat, NoteMarks

#: What was not let go of still lies so far under where it should have gone at least, cents.
_UNRELEASED_CENTS = 20.0
#: A note belongs to a place in time where at least this part of it, or of the place, sounds.
_SOUNDS_PART = 0.3


@dataclass(frozen=True, slots=True)
class Place:
    """Somewhere over the root, from ``low`` to ``high`` cents above it; ``name`` as players say it.

    Around one ``pitch`` it reaches as far as nobody minds; None where every pitch inside is as good as any. ``bent`` is
    whether lips and tongue bring a note there, rather than the reed alone.
    """

    name: str
    low: float
    high: float
    pitch: float | None = None
    bent: bool = True

    def missed(self, cents: float) -> float:
        """How far ``cents`` lies outside in the nearest octave: negative below, positive above, 0 inside.

        A root that is bent down by more than 50 cents is told in the octave beneath: here it is still a low root.
        """
        cents -= CENTS_PER_OCTAVE * math.floor((cents - 0.5 * (self.low + self.high)) / CENTS_PER_OCTAVE + 0.5)
        return min(cents - self.low, 0.0) + max(cents - self.high, 0.0)

    def away(self, missed: float) -> float:
        """How far away a note is told to be that missed the place by ``missed``: from its pitch, else from its edge."""
        if self.pitch is None or missed == 0.0:
            return abs(missed)
        return abs(missed) + (self.high - self.pitch if missed > 0.0 else self.pitch - self.low)


def near(name: str, pitch: float, near_cents: float, *, bent: bool = True) -> Place:
    """The place around one pitch that reaches ``near_cents`` to either side."""
    return Place(name, pitch - near_cents, pitch + near_cents, pitch, bent)


@dataclass(frozen=True, slots=True)
class Aim:
    """One note to be played: it starts ``at`` beats after the first and lasts ``beats``.

    ``settle`` is where it is held, ``begin`` where it begins, None where that does not matter. With
    ``release_beats`` it is let go from ``begin`` up to ``settle`` within so many beats.
    """

    at: float
    beats: float
    settle: Place
    begin: Place | None = None
    release_beats: float | None = None


@dataclass(frozen=True, slots=True)
class Missed:
    """By how much one note missed its aim; cents are negative for too low, seconds for too early.

    ``settle_cents`` and ``begin_cents`` are 0 inside their places. ``unreleased`` is whether it should have been let go
    of and was not; ``release_part`` how much longer the release took than wanted, as a part of that, None where there
    is nothing to say. ``late_s`` is None where no beat is known, ``short_part`` how much of its length was missing.
    """

    settle_cents: float
    begin_cents: float
    unreleased: bool
    release_part: float | None
    late_s: float | None
    steady_cents: float
    unclean: float
    two_holes: bool
    short_part: float


def off_cents(aim: Aim, miss: Missed) -> float:
    """How far away from its places a note is told to be, cents: the worse of where it began and where it was held."""
    begun = 0.0 if aim.begin is None else aim.begin.away(miss.begin_cents)
    return max(aim.settle.away(miss.settle_cents), begun)


def came_to(marks: NoteMarks) -> float:
    """How far up a note came that was let go of, cents: where it settled, or the end of its release."""
    return marks.settle_cents if marks.release is None else max(marks.settle_cents, marks.release.to_cents)


def held_at(marks: NoteMarks) -> float:
    """Where a note was held longest, cents: what counts where it should not have been let go of at all."""
    return marks.settle_cents if marks.longest_cents is None else marks.longest_cents


def missed(aim: Aim, marks: NoteMarks, beat: Beat | None = None) -> Missed:
    """How far a note with ``marks`` misses ``aim``; how it lies in time is told where the ``beat`` is known."""
    ended = held_at(marks) if aim.release_beats is None else came_to(marks)
    begin_cents = 0.0 if aim.begin is None else aim.begin.missed(marks.begin_cents)
    left = aim.settle.low - ended
    unreleased = aim.release_beats is not None and left > max(
        _UNRELEASED_CENTS, aim.settle.low - marks.begin_cents - left
    )
    release_part = late_s = None
    short_part = 0.0
    if beat is not None:
        late_s = marks.start_s - beat.at(aim.at)
        short_part = max(0.0, 1.0 - (marks.length_s + max(late_s, 0.0)) / (aim.beats * beat.period_s))
        if aim.release_beats is not None and marks.release is not None and not unreleased:
            release_part = marks.release.length_s / (aim.release_beats * beat.period_s) - 1.0
    return Missed(
        aim.settle.missed(ended),
        begin_cents,
        unreleased,
        release_part,
        late_s,
        marks.steady_cents,
        1.0 - marks.clean,
        marks.two_holes,
        short_part,
    )


def played(aims: Sequence[Aim], notes: Sequence[NoteMarks], beat: Beat | None = None) -> list[NoteMarks | None]:
    """Which of ``notes`` was played for each aim, None where none was; each note counts once.

    Where the beat is known it is the note that sounds longest while it should, else one after the other.
    """
    if beat is None:
        return [*notes[: len(aims)], *[None] * (len(aims) - len(notes))]
    left, found = list(notes), []
    for aim in aims:
        from_s, to_s = beat.at(aim.at), beat.at(aim.at + aim.beats)
        sounding = {note: min(note.start_s + note.length_s, to_s) - max(note.start_s, from_s) for note in left}
        best = max(left, key=sounding.__getitem__, default=None)
        if best is not None and sounding[best] < _SOUNDS_PART * min(to_s - from_s, best.length_s):
            best = None
        if best is not None:
            left.remove(best)
        found.append(best)
    return found
