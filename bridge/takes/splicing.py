"""Notes cut out of a take, and takes set one after another.

Numbers of notes stay where they can, so that a note can be found again in the take it came from, and a note that was
cut in two is one again where the halves are joined.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import accumulate

from bridge.takes.edited import Breakpoint, EditedNote, Points
from bridge.takes.moving import DECIMALS, SHORTEST_S, shifted
from bridge.takes.resinging_plan import LEAD_S, RING_S, TIME_S

#: Halves of one note meet as exactly as tables tell it: seconds, cents, breath.
_MEETS_S, _MEETS_CENTS, _MEETS_BREATH = 1.5e-5, 0.03, 0.003


def on_sample(time_s: float, rate: int) -> float:
    """The time of the sample nearest to ``time_s`` in a sound of ``rate`` Hz, as tables tell it."""
    return round(round(time_s * rate) / rate, DECIMALS)


def cut(notes: Sequence[EditedNote], from_s: float, to_s: float) -> list[EditedNote]:
    """What sounds between two times, counted from the first of them; a note that crosses one is cut there."""
    kept = []
    for note in notes:
        start_s, end_s = max(note.start_s, from_s), min(note.end_s, to_s)
        length_s = round(end_s - start_s, DECIMALS)
        whole = start_s == note.start_s and end_s == note.end_s
        if length_s < SHORTEST_S and not whole:
            continue
        points = note.points if whole else _points_between(note, start_s - note.start_s, length_s)
        start_s = round(start_s - from_s, DECIMALS) + 0.0
        kept.append(replace(note, start_s=start_s, length_s=note.length_s if whole else length_s, points=points))
    return kept


def is_torn(
    played: Iterable[EditedNote], notes: Iterable[EditedNote], from_s: float | None, to_s: float | None
) -> bool:
    """Whether a cut at two times (None: no cut) parts a note from its sound.

    The sound of a note that was moved, or made longer, lies where it was ``played``; matched by number.
    """
    begin_s, end_s = (-math.inf if from_s is None else from_s), (math.inf if to_s is None else to_s)
    sounds = {note.id: note for note in played}
    for note in notes:
        sound = sounds.get(note.id)
        if sound is None or note.end_s <= begin_s or note.start_s >= end_s:
            continue
        moved = abs(note.start_s - sound.start_s) > TIME_S or note.length_s - sound.length_s > TIME_S
        first_s, last_s = min(note.start_s, sound.start_s - LEAD_S), max(note.end_s, sound.end_s + RING_S)
        if moved and (first_s < begin_s or last_s > end_s):
            return True
    return False


def placed(played: Iterable[EditedNote], notes: Iterable[EditedNote]) -> list[EditedNote]:
    """The notes as they were ``played``, but where those of the same number in ``notes`` lie now, and as long.

    What is not among ``notes`` is left out.
    """
    now = {note.id: note for note in notes}
    kept = []
    for note in played:
        if (there := now.get(note.id)) is not None:
            shorter = there.length_s < note.length_s
            points = _points_between(note, 0.0, there.length_s) if shorter else note.points
            kept.append(replace(note, start_s=there.start_s, length_s=there.length_s, points=points))
    return sorted(kept, key=lambda note: note.start_s)


def joined(
    takes: Sequence[Sequence[EditedNote]], starts_s: Sequence[float], more_ids: Sequence[int]
) -> list[EditedNote]:
    """The notes of several takes, each from its own place in seconds on, the places rising.

    The numbers of each take are higher by its ``more_ids``. Halves of one note, which have one number, become one.
    """
    notes: list[EditedNote] = []
    for take, start_s, more_id in zip(takes, starts_s, more_ids, strict=True):
        more = shifted(take, start_s, more_id)
        if notes and more and _are_halves(notes[-1], more[0]):
            more[0] = _one_again(notes.pop(), more[0])
        notes += more
    return notes


def numbering(
    takes: Sequence[tuple[Sequence[EditedNote], Sequence[EditedNote]]], starts_s: Sequence[float]
) -> list[int]:
    """What the numbers of each take must be higher by, so that each is that of one note; 0 where they already are.

    Each take is its notes as they are and as they were played, in which one number tells of one note.
    """
    ids = [{note.id for note in (*now, *played)} for now, played in takes]
    twice = sum(map(len, ids)) - len(set().union(*ids))
    plain = [0] * len(takes)
    versions = ([take[0] for take in takes], [take[1] for take in takes])
    made_one = [sum(map(len, notes)) - len(joined(notes, starts_s, plain)) for notes in versions]
    if made_one == [twice, twice]:
        return plain
    return list(accumulate((max(some, default=0) for some in ids[:-1]), initial=0))


def _points_between(note: EditedNote, from_s: float, length_s: float) -> Points:
    """The part of the curve that begins at ``from_s``, as seconds from there, with corners where cuts cross it."""
    from_s = round(from_s, DECIMALS)
    to_s = round(from_s + length_s, DECIMALS)
    corners = [point for point in note.points if from_s <= point.at_s <= to_s]
    if from_s > note.points[0].at_s and not (corners and corners[0].at_s == from_s):
        corners.insert(0, note.at(from_s))
    if not corners or (note.points[-1].at_s > to_s > corners[-1].at_s):
        corners.append(note.at(to_s))
    return Points(replace(point, at_s=round(point.at_s - from_s, DECIMALS)) for point in corners)


def _are_halves(one: EditedNote, other: EditedNote) -> bool:
    """Whether these are the halves of one note: the same number, and nothing changes where they meet."""
    return (
        (one.id, one.midi_note, one.degree, one.velocity) == (other.id, other.midi_note, other.degree, other.velocity)
        and abs(other.start_s - one.end_s) <= _MEETS_S
        and _meet(one.at(one.length_s), other.at(0.0))
    )


def _one_again(one: EditedNote, other: EditedNote) -> EditedNote:
    """The note whose halves these are, without the corners that cutting made."""
    before = [point for point in one.points if point.at_s < one.length_s]
    after = [
        replace(point, at_s=round(point.at_s + one.length_s, DECIMALS)) for point in other.points if point.at_s > 0.0
    ]
    length_s = round(one.length_s + other.length_s, DECIMALS)
    seam = one.at(one.length_s)
    if before or after:
        plain = replace(one, length_s=length_s, points=(*before, *after))
        if _meet(plain.at(one.length_s), seam):
            return plain
    return replace(one, length_s=length_s, points=(*before, seam, *after))


def _meet(one: Breakpoint, other: Breakpoint) -> bool:
    """Whether two corners tell the same, as exactly as tables do."""
    cents, breath = abs(one.bend_cents - other.bend_cents), abs(one.breath - other.breath)
    return cents <= _MEETS_CENTS and breath <= _MEETS_BREATH
