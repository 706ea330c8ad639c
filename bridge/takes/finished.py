"""A note that has ended, in one plain line: what was sent, where it was held or how it moved, and how blue it was.

Conventions: cents are bends, counted from the note that is named, which is the one that was sent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from statistics import median

from bridge.base.events import Inflection
from bridge.harp.note_names import note_name
from bridge.harp.tab import Convention, tab
from bridge.takes.notes import NoteRow

#: A reed has come to its pitch by then, in seconds: 60 to 100 ms on sampled harmonica, measured.
_ATTACK_S = 0.06
#: And begins to let go of it by then, in seconds before its end; only notes longer than both have a middle.
_RELEASE_S = 0.02
#: Steps that a way is looked at in, in seconds: many to a period of vibrato (4 to 8 Hz), few to a jitter.
_STEP_S = 0.02
#: A way shorter than this is no movement but a note held by a human, in cents.
_MOVED_CENTS = 25.0
#: Bent this far or farther it is heard as the next key, in cents, unless it is fully blue.
_NEXT_KEY_CENTS = 75.0
#: With more turns than this a way is a swinging.
_MOST_PLACES = 3
_FULLY, _NOT = 0.95, 0.05
#: Blue for less than this is not heard as a place, in seconds.
_PASSING_S = 0.05


@dataclass(frozen=True)
class Finished:
    """One note that has ended.

    ``name`` is the note that was sent, ``tab`` its likely hole ("" where unknown), ``heard_as`` another note that
    it was for most of the time ("" for none), ``degree`` where it dwelt longest, ``places`` where it turned on its way
    (one: it was held there), ``held_cents``, ``blueness`` and ``lean`` medians, all without attack and release;
    ``bluest`` the highest blueness, ``blue_s`` the seconds for which it was fully blue.
    """

    name: str
    tab: str
    heard_as: str
    degree: str
    start_s: float
    length_s: float
    places: tuple[float, ...]
    held_cents: float
    blueness: float
    bluest: float
    lean: float
    blue_s: float

    def sentence(self) -> str:
        """The note in one plain line, in columns."""
        return f"{self.start_s:9.3f} s  {self.name:<4} {f'{self.tab:<6} ' if self.tab else ''}{self._what()}"

    def words(self) -> str:
        """The same for a narrow place: without the time."""
        return " ".join(filter(None, (self.name, self.tab, self._what())))

    def _what(self) -> str:
        heard = f"heard as {self.heard_as}, " if self.heard_as else ""
        return f"{heard}degree {self.degree}, {self.length_s:.2f} s, {self._way()}, {self._blue()}"

    def _way(self) -> str:
        """Where it was held, or how it moved."""
        if len(self.places) == 1:
            return f"held at {signed(self.held_cents)} cents"
        if len(self.places) > _MOST_PLACES:
            low, high = signed(min(self.places)), signed(max(self.places))
            return f"swinging from {low} to {high} cents"
        way = signed(self.places[0])
        for before, place in zip(self.places, self.places[1:], strict=False):
            way += f" {'rising' if place > before else 'falling'} to {signed(place)}"
        return f"{way} cents"

    def _blue(self) -> str:
        """How blue: of a note that was held where it was held, of one that moved how long or how much at most."""
        if len(self.places) == 1 or self.bluest < _NOT:
            return _with_side(self.blueness, self.lean)
        if self.bluest < _FULLY:
            return f"at most {blue_words(self.bluest)}"
        return f"fully blue for {self.blue_s:.2f} s" if self.blue_s >= _PASSING_S else "blue only in passing"


def finish_note(row: NoteRow, moves: Sequence[Inflection], convention: Convention = "signs") -> Finished:
    """What there is to say of the note in ``row``; ``moves`` are its inflections, the one it began with first."""
    begin_s, end_s = row.start_s + _ATTACK_S, row.end_s - _RELEASE_S
    spoken = [move for move in moves if begin_s <= move.time_s <= end_s] or moves
    ends = [move.time_s for move in spoken[1:]] + [min(row.end_s, max(end_s, spoken[-1].time_s))]
    held_cents = median(move.bend_cents for move in spoken)
    held_blue = median(move.blueness for move in spoken)
    root_midi = None if row.harp is None else row.harp.root_midi
    far = abs(held_cents) >= _NEXT_KEY_CENTS and held_blue < _FULLY
    return Finished(
        name=note_name(row.midi_note, root_midi),
        tab="" if row.reading is None else tab(row.reading, convention),
        heard_as=note_name(row.midi_note + round(held_cents / 100.0), root_midi) if far else "",
        degree=row.degree,
        start_s=row.start_s,
        length_s=row.length_s,
        places=_places(spoken),
        held_cents=held_cents,
        blueness=held_blue,
        bluest=max(move.blueness for move in spoken),
        lean=median(move.lean for move in spoken),
        blue_s=sum(
            max(0.0, until - move.time_s) for move, until in zip(spoken, ends, strict=True) if move.blueness >= _FULLY
        ),
    )


def blue_words(blueness: float) -> str:
    """How blue, in words."""
    for least, words in ((_FULLY, "fully blue"), (0.6, "mostly blue"), (0.3, "half blue"), (_NOT, "a little blue")):
        if blueness >= least:
            return words
    return "not blue"


def _with_side(blueness: float, lean: float) -> str:
    """How blue, and when neither fully nor not at all to which side of the blue zone it lies."""
    words = blue_words(blueness)
    if not _NOT <= blueness < _FULLY:
        return words
    return f"{words} ({'minor side' if lean < 0.0 else 'near straight'})"


def _places(moves: Sequence[Inflection]) -> tuple[float, ...]:
    """Where a way begins, turns and ends, in cents; a single place when it goes nowhere."""
    steps = groupby(moves, key=lambda move: move.time_s // _STEP_S)
    bends = [median(move.bend_cents for move in step) for _, step in steps]
    turns: list[float] = []
    low = high = furthest = bends[0]
    way = 0
    for bend in bends[1:]:
        if not way:
            low, high = min(low, bend), max(high, bend)
            if high - low >= _MOVED_CENTS:
                way, furthest = (1 if bend == high else -1), bend
                turns.append(low if way > 0 else high)
        elif way * (bend - furthest) > 0.0:
            furthest = bend
        elif way * (furthest - bend) >= _MOVED_CENTS:
            turns.append(furthest)
            way, furthest = -way, bend
    return (*turns, furthest)


def signed(cents: float) -> str:
    """Whole cents with their sign; none has none."""
    return f"{round(cents):+d}" if round(cents) else "0"
