"""Edits of a sequencer and edits by hand of one version of a take, put together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from hypothesis import assume, given
from hypothesis import strategies as st

from bridge.takes.edited import Breakpoint, EditedNote
from bridge.takes.merging import merged, parts_edited
from bridge.takes.taking_back import TakenBack
from takes.made_notes import any_notes, edited

#: Edits of one part of a note each, that leave it room.
PARTS = {
    "number": lambda note: replace(note, midi_note=note.midi_note + 1),
    "velocity": lambda note: replace(note, velocity=128 - note.velocity if note.velocity != 64 else 65),
    "curve": lambda note: replace(note, points=(Breakpoint(0.0, 11.11, 0.5),)),
    "length": lambda note: replace(note, length_s=0.9 * note.length_s),
}
VERSION = [edited(number, float(number), 0.5, 70) for number in (1, 2, 3)]


def back(version: list[EditedNote], notes: list[EditedNote]) -> TakenBack:
    """What a file brings back in which these are the notes; new ones have ids beyond those of the version."""
    old = {note.id: note for note in version}
    changed = {note.id for note in notes if note.id in old and note != old[note.id]}
    added = {note.id for note in notes} - set(old)
    removed = set(old) - {note.id for note in notes}
    return TakenBack(tuple(notes), *map(frozenset, (changed, added, removed, changed | added)))


def with_edits(notes: list[EditedNote], edits: Mapping[int, str]) -> list[EditedNote]:
    """The notes with one part edited of those named."""
    return [PARTS[edits[note.id]](note) if note.id in edits else note for note in notes]


edits = st.dictionaries(st.integers(1, 4), st.sampled_from([*PARTS]))


@given(any_notes(), edits, edits)
def test_each_has_its_edits_where_they_are_of_different_parts(
    version: list[EditedNote], theirs: dict[int, str], ours: dict[int, str]
) -> None:
    """Whichever note they are of; both in one note too."""
    assume(all(ours.get(number) != part for number, part in theirs.items()))
    # A shorter note cuts off what its curve has beyond its end.
    version = [replace(note, points=(replace(note.points[0], at_s=0.0),)) for note in version]
    both, conflicts = merged(back(version, with_edits(version, theirs)), version, with_edits(version, ours))
    assert conflicts == []
    assert list(both.notes) == with_edits(with_edits(version, theirs), ours)
    assert both.edited == {number for number in theirs if number <= len(version)}
    assert both.added == both.removed == frozenset()


@given(any_notes(), edits)
def test_a_file_that_nobody_has_edited_brings_nothing_back(version: list[EditedNote], ours: dict[int, str]) -> None:
    """Whatever was edited by hand since."""
    now = with_edits(version, ours)
    both, conflicts = merged(back(version, version), version, now)
    assert (list(both.notes), conflicts) == (now, [])
    assert both.edited | both.added | both.removed | both.untold == frozenset()


def test_the_same_edit_twice_is_no_conflict() -> None:
    """Two that differ are one, with what of which note."""
    once = with_edits(VERSION, {2: "curve"})
    both, conflicts = merged(back(VERSION, once), VERSION, once)
    assert (list(both.notes), conflicts, both.edited) == (once, [], frozenset())
    other = [replace(note, points=(Breakpoint(0.0, -5.0, 0.5),)) if note.id == 2 else note for note in VERSION]
    assert [(one.id, one.what) for one in merged(back(VERSION, once), VERSION, other)[1]] == [(2, "curve")]


def test_notes_taken_out_and_put_in() -> None:
    """Each side's; new ones get a number that neither has; an edit of what the other has taken out is a conflict."""
    new = edited(4, 5.0, 0.5, 60)
    ours = [*VERSION[:2], replace(new, midi_note=61, start_s=6.0)]
    both, conflicts = merged(back(VERSION, [*VERSION[1:], new]), VERSION, ours)
    assert conflicts == []
    assert [(note.id, note.midi_note) for note in both.notes] == [(2, 70), (5, 60), (4, 61)]
    assert [both.added, both.removed, both.untold] == [{5}, {1}, {5}]
    gone = [note for note in VERSION if note.id != 3]
    for theirs, hand in ((with_edits(VERSION, {3: "number"}), gone), (gone, with_edits(VERSION, {3: "number"}))):
        assert [(one.id, one.what) for one in merged(back(VERSION, theirs), VERSION, hand)[1]] == [(3, "taken out")]


def test_a_new_note_beside_the_greatest_id_gets_one_that_neither_has() -> None:
    """A table takes ids up to 10^9; of the ids that are free in both the lowest."""
    version = [*VERSION, edited(10**9, 5.0, 0.5, 70)]
    both, conflicts = merged(back(version, [*version, edited(4, 7.0, 0.5, 60)]), version, version[1:])
    assert conflicts == []
    assert [note.id for note in both.notes] == [2, 3, 10**9, 4]
    assert both.added == {4}


def test_notes_in_each_others_way_are_a_conflict() -> None:
    """One moved in the sequencer onto one that a hand has made longer."""
    theirs = [replace(note, start_s=1.7) if note.id == 2 else note for note in VERSION]
    ours = [replace(note, length_s=0.9) if note.id == 1 else note for note in VERSION]
    _, conflicts = merged(back(VERSION, theirs), VERSION, ours)
    assert [(one.id, one.what) for one in conflicts] == [(2, "start while note 1 sounds")]


def test_the_version_of_a_file_is_the_one_with_the_fewest_parts_edited() -> None:
    """Each part of a note counts once, a whole note for all of them."""
    theirs = with_edits(VERSION, {1: "number", 2: "velocity"})
    assert parts_edited(back(VERSION, theirs), VERSION) == 2
    assert parts_edited(back(VERSION, [*theirs[1:], edited(4, 5.0, 0.5, 60)]), VERSION) == 1 + 5 + 5
