"""What was edited in a sequencer, taken back into the notes of a take.

A note of the MIDI file is the note of the tables that begins where it does; of others as many as there are between two
such notes are taken in turn. What agrees with the tables stays as it stands there, to the last digit: only what was
really edited is written anew.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from bridge.send.pitch import SentPitch
from bridge.takes.breakpoints import TIME_DECIMALS, Tolerance, fewest_breakpoints
from bridge.takes.curves import Array, Curve, stays_near
from bridge.takes.edited import Breakpoint, EditedNote
from bridge.takes.free_ids import free_ids
from bridge.takes.heard import SAME_S, Heard, HeardNotes
from bridge.takes.midi_reading import MidiReading

#: A tick of our own files with no tempo known, s; values stand one before their note.
_OUR_TICK_S = 1 / 1920
#: Nor does a file say what a bend did between two values that follow one another.
_BLIND_INTERVALS = 1.5
#: What the decimals of the tables add to a step.
_DECIMALS = Tolerance(0.02, 0.002)
#: If so many of the notes that begin as in the tables also bend as there to a step, the file was made from these.
_MADE_FROM_TABLES = 0.5


@dataclass(frozen=True, slots=True)
class TakenBack:
    """The ``notes`` as the file has them, and the ids of those that were ``edited``, ``added`` and ``removed``.

    ``untold`` are those whose pitch is another, so that degree and reed must be told anew.
    """

    notes: tuple[EditedNote, ...]
    edited: frozenset[int]
    added: frozenset[int]
    removed: frozenset[int]
    untold: frozenset[int]


@dataclass(frozen=True, slots=True)
class _Closeness:
    """How near two curves must be to be one: beyond a step of the file, and how far either is moved, in seconds.

    A corner of the tables between values of the file that are no more than ``blind_s`` apart is left to these.
    """

    beyond_step: Tolerance
    slack_s: float
    blind_s: float


def taken_back(
    reading: MidiReading,
    tables: Sequence[EditedNote],
    *,
    pitch_at: Callable[[EditedNote], SentPitch],
    interval_s: float,
    tolerance: Tolerance,
) -> TakenBack:
    """The notes of a MIDI file, with all that agrees with ``tables`` as it stands there.

    ``pitch_at`` tells how much of a bend went out, ``interval_s`` how far apart the values of a moving bend are, and
    ``tolerance`` how near breakpoints keep to a curve that was edited; in a file that was written as it was played,
    where the tables keep no nearer to it, a smaller edit counts as none. Raises UserError where bends did not go out,
    and for bends that no table holds.
    """
    slack_s = reading.tick_s + 2 * _OUR_TICK_S
    heard = HeardNotes(reading, pitch_at, interval_s, slack_s)
    begun = [(note.start_s, note.midi_note) for note in heard.bare()]
    partners = [None if at is None else tables[at] for at in _partners(begun, tables, slack_s)]
    exact = _Closeness(_DECIMALS, slack_s, 0.0)
    agrees = [old is not None and _agrees(one, old, exact) for one, old in zip(heard, partners, strict=True)]
    looser = None
    if not _made_from_tables(heard, partners, agrees, slack_s):
        # What was written as it was played lacks what moved between two values.
        looser = _Closeness(_plus(tolerance, _DECIMALS), slack_s, _BLIND_INTERVALS * interval_s)
    ids = free_ids([note.id for note in tables])
    added: set[int] = set()
    notes: list[EditedNote] = []
    for place, (note, old) in enumerate(zip(heard.bare(), partners, strict=True)):
        if old is None:
            new = replace(note, id=next(ids), points=_fitted(heard[place], tolerance, None))
            added.add(new.id)
        else:
            new = _placed(note, old, slack_s)
            one = None if agrees[place] else heard[place]
            if one is None or (looser is not None and _agrees(one, old, looser)):
                new = _ended_at(new, new.length_s)
            else:
                new = replace(new, points=_fitted(one, tolerance, old, new.length_s))
        # What is as it was is in memory once.
        notes.append(old if old is not None and new == old else new)
    notes = _one_at_a_time(notes)
    before = {old.id: old for old in partners if old is not None}
    kept = [(note, before[note.id]) for note in notes if note.id in before]
    edited = {note.id for note, old in kept if note != old}
    others = {note.id for note, old in kept if note.id in edited and _pitch(note) != _pitch(old)}
    removed = {note.id for note in tables} - before.keys()
    return TakenBack(tuple(notes), *map(frozenset, (edited, added, removed, added | others)))


def _partners(begun: Sequence[tuple[float, int]], tables: Sequence[EditedNote], slack_s: float) -> list[int | None]:
    """For each note of the file, of which start and number are given, its place in the tables."""
    starts = [note.start_s for note in tables]
    found: list[int | None] = [None] * len(begun)
    taken: set[int] = set()
    for same_number in (True, False):
        for place, (start_s, midi_note) in enumerate(begun):
            at = bisect_left(starts, start_s - slack_s)
            while found[place] is None and at < len(tables) and starts[at] <= start_s + slack_s:
                if at not in taken and (not same_number or tables[at].midi_note == midi_note):
                    found[place] = at
                    taken.add(at)
                at += 1
    last_place, last_at = -1, -1
    ends: list[tuple[int, int | None]] = [(len(begun), len(tables))]
    for place, partner in [*enumerate(list(found)), *ends]:
        if partner is not None and partner > last_at:
            if partner - last_at == place - last_place:
                found[last_place + 1 : place] = range(last_at + 1, partner)
            last_place, last_at = place, partner
    return found


def _made_from_tables(
    heard: HeardNotes, partners: Sequence[EditedNote | None], agrees: Sequence[bool], slack_s: float
) -> bool:
    """Whether so many of the notes that begin as in the tables agree with them that the file was made from these."""
    same_start = [
        agreed
        for note, old, agreed in zip(heard.bare(), partners, agrees, strict=True)
        if old is not None and abs(note.start_s - old.start_s) <= slack_s and note.midi_note == old.midi_note
    ]
    return sum(same_start) >= _MADE_FROM_TABLES * len(same_start)


def _agrees(one: Heard, old: EditedNote, close: _Closeness) -> bool:
    """Whether the curve is that of the tables, as far as both notes last."""
    # What stands at the very end may have been rounded out of either.
    until_s = min(one.note.length_s, old.length_s) - close.slack_s
    ours, theirs = one.curve, Curve.of_points(old.points)
    within = _plus(one.step, close.beyond_step)
    # Of corners within a tick or two the file holds the last.
    last_of_tick = np.append(np.diff(theirs.times) > close.slack_s, [True])
    seen = last_of_tick & (ours.gaps_at(theirs.times) > close.blind_s)
    corners = theirs.times[seen]

    def near(values: Array, line: Array, limit: float) -> bool:
        around = {"until_s": until_s, "slack_s": close.slack_s, "within": limit}
        return stays_near(ours.times, values, theirs.times, line, **around) and stays_near(
            corners, line[seen], ours.times, values, **around
        )

    return near(ours.bends, theirs.bends, within.bend_cents) and (
        not one.has_breath or near(ours.breaths, theirs.breaths, within.breath)
    )


def _placed(note: EditedNote, old: EditedNote, slack_s: float) -> EditedNote:
    """The note of the tables with what was edited but for its curve."""
    start_s = old.start_s if abs(note.start_s - old.start_s) <= slack_s else note.start_s
    length_s = old.length_s if abs(note.end_s - start_s - old.length_s) <= slack_s else note.length_s
    return replace(old, start_s=start_s, length_s=length_s, midi_note=note.midi_note, velocity=note.velocity)


def _one_at_a_time(notes: Sequence[EditedNote]) -> list[EditedNote]:
    """The notes in order, each at its end by when the next begins.

    Of two that touch in the file one may have its time from there and the other, a tick off, from the tables.
    """
    ordered = sorted(notes, key=lambda note: note.start_s)
    return [
        note
        if after is None or note.end_s <= after.start_s + SAME_S
        else _ended_at(note, round(after.start_s - note.start_s, TIME_DECIMALS))
        for note, after in pairwise([*ordered, None])
        if note is not None
    ]


def _ended_at(note: EditedNote, length_s: float) -> EditedNote:
    """The note so long, with no breakpoint beyond its end."""
    if note.points[-1].at_s > length_s:
        inside = [point for point in note.points if point.at_s < length_s]
        note = replace(note, points=(*inside, note.at(length_s)))
    return replace(note, length_s=length_s)


def _fitted(
    one: Heard, tolerance: Tolerance, old: EditedNote | None, end_s: float | None = None
) -> tuple[Breakpoint, ...]:
    """The breakpoints of the curve in the file; a file without breath leaves that of the tables."""
    times = np.minimum(one.curve.times, one.note.length_s if end_s is None else end_s)
    kept = np.concatenate([[True], np.diff(times) > SAME_S])
    breaths = one.curve.breaths
    if not one.has_breath and old is not None:
        theirs = Curve.of_points(old.points)
        breaths = np.interp(one.curve.times, theirs.times, theirs.breaths)
    return tuple(fewest_breakpoints(times[kept], one.curve.bends[kept], breaths[kept], tolerance))


def _pitch(note: EditedNote) -> tuple[int, list[tuple[float, float]]]:
    return note.midi_note, [(point.at_s, point.bend_cents) for point in note.points]


def _plus(one: Tolerance, other: Tolerance) -> Tolerance:
    return Tolerance(one.bend_cents + other.bend_cents, one.breath + other.breath)
