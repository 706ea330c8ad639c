"""Two edits of one version of a take put together: what came back from a sequencer, and what the tables are by now.

Each note is compared with what it was in the version that both began from, by its start, its length, its number, its
velocity and its curve: what only one of the two has edited is as it has it. What both have edited, to different ends,
is a conflict, which only the player can settle.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from bridge.takes.derived_columns import same_pitch
from bridge.takes.edited import EditedNote
from bridge.takes.free_ids import free_ids
from bridge.takes.taking_back import TakenBack

#: What can be edited of a note, in words.
_PARTS: Mapping[str, Callable[[EditedNote], object]] = {
    "start": lambda note: note.start_s,
    "length": lambda note: note.length_s,
    "number": lambda note: note.midi_note,
    "velocity": lambda note: note.velocity,
    "curve": lambda note: note.points,
}
#: Times in the tables are rounded each on its own: notes that overlap by less do not, s.
_ROUNDED_S = 2e-5


@dataclass(frozen=True, slots=True)
class Conflict:
    """A note that was edited on both sides, and what of it: ``start``, ``curve`` ..., or how it is in the way."""

    id: int
    what: str


def parts_edited(taken: TakenBack, version: Sequence[EditedNote]) -> int:
    """How much of ``version`` is another in what came back: every part of a note counts, a whole note as all of them.

    The version that a file was made from is the one of which the least is another.
    """
    old = {note.id: note for note in version}
    parts = sum(len(_edited(note, old[note.id])) for note in taken.notes if note.id in taken.edited)
    return parts + len(_PARTS) * (len(taken.added) + len(taken.removed))


def are_others(version: Sequence[EditedNote], now: Sequence[EditedNote]) -> bool:
    """Whether anything that a sequencer could see is another in these notes."""
    old = {note.id: note for note in version}
    return old.keys() != {note.id for note in now} or any(_edited(note, old[note.id]) for note in now)


def merged(
    taken: TakenBack, version: Sequence[EditedNote], now: Sequence[EditedNote]
) -> tuple[TakenBack, list[Conflict]]:
    """What came back from a file that was made from ``version``, put into the notes as they are ``now``.

    The ids in what comes back are those of the notes that are now edited, added and removed. With conflicts it is of
    no use.
    """
    old, ours = ({note.id: note for note in notes} for notes in (version, now))
    theirs = {note.id: note for note in taken.notes if note.id not in taken.added}
    conflicts: list[Conflict] = []
    notes: list[EditedNote] = []
    removed: set[int] = set()
    for note in now:
        before, other = old.get(note.id), theirs.get(note.id)
        if before is None:
            notes.append(note)
        elif other is None:
            conflicts += [Conflict(note.id, "taken out")] if _edited(note, before) else []
            removed.add(note.id)
        else:
            one, faults = _both(before, other, note)
            notes.append(one)
            conflicts += [Conflict(note.id, part) for part in faults]
    gone = [theirs[note.id] for note in version if note.id not in ours and note.id in theirs]
    conflicts += [Conflict(note.id, "taken out") for note in gone if _edited(note, old[note.id])]
    ids = free_ids({*old, *ours})
    new = [replace(note, id=next(ids)) for note in taken.notes if note.id in taken.added]
    notes += new
    added = {note.id for note in new}
    notes.sort(key=lambda note: note.start_s)
    edited = {note.id for note in notes if note.id in ours and note != ours[note.id]}
    untold = added | {note.id for note in notes if note.id in edited and not same_pitch(note, ours[note.id])}
    conflicts += _in_the_way(notes)
    return TakenBack(tuple(notes), *map(frozenset, (edited, added, removed, untold))), conflicts


def _edited(note: EditedNote, before: EditedNote) -> list[str]:
    """The parts of a note that are others than before."""
    return [part for part, of in _PARTS.items() if of(note) != of(before)]


def _both(before: EditedNote, theirs: EditedNote, ours: EditedNote) -> tuple[EditedNote, list[str]]:
    """The note with what either has edited, and the parts that both have, to different ends."""
    by_them, by_us = _edited(theirs, before), _edited(ours, before)
    if not by_them:
        return ours, []
    faults = [part for part in by_them if part in by_us and _PARTS[part](theirs) != _PARTS[part](ours)]
    one = replace(
        ours,
        start_s=theirs.start_s if "start" in by_them else ours.start_s,
        length_s=theirs.length_s if "length" in by_them else ours.length_s,
        midi_note=theirs.midi_note if "number" in by_them else ours.midi_note,
        velocity=theirs.velocity if "velocity" in by_them else ours.velocity,
        points=theirs.points if "curve" in by_them else ours.points,
    )
    if any(point.at_s > one.length_s + _ROUNDED_S for point in one.points):
        inside = [point for point in one.points if point.at_s < one.length_s]
        one = replace(one, points=(*inside, one.at(one.length_s)))
    return one, faults


def _in_the_way(notes: Sequence[EditedNote]) -> list[Conflict]:
    """Notes that begin while another one sounds."""
    return [
        Conflict(after.id, f"start while note {before.id} sounds")
        for before, after in pairwise(notes)
        if after.start_s < before.end_s - _ROUNDED_S
    ]
