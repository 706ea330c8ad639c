"""A take's MIDI file as a sequencer has saved it: what that left out, and what it must not undo."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from bridge.base.errors import UserError
from bridge.takes.edited import EditedNote
from bridge.wiring.opening import opened_take
from bridge.wiring.rebuilding import rebuild_take
from takes.sequencer import placed, saved, transposed, without
from wiring.made_takes import content, make_take

#: Select, data entry and so the range of bends (MIDI 1.0, 4.2.1).
RANGE_CONTROLLERS = {100, 101, 6, 38}


@pytest.fixture
def take(tmp_path: Path) -> Path:
    """The made-up phrase, played with a bend range of an octave, and rebuilt."""
    path = tmp_path / "phrase"
    make_take(path, sound_s=None)
    description = path / "take.yaml"
    text = description.read_text(encoding="utf-8")
    assert text.count(" bend_range: 2") == 1
    description.write_text(text.replace(" bend_range: 2", " bend_range: 12"), encoding="utf-8")
    rebuild_take(path, pytest.fail)
    return path


def without_range(data: bytes) -> bytes:
    """What a sequencer writes that takes the bend range for its own affair."""
    return without(data, lambda _, message: message.type == "control_change" and message.control in RANGE_CONTROLLERS)


@pytest.mark.parametrize("mpe", [False, True])
@pytest.mark.parametrize("own", [False, True])
def test_a_file_without_a_bend_range_has_that_of_the_take(take: Path, tmp_path: Path, own: bool, mpe: bool) -> None:
    """Said in one line; else all bends would be a sixth. Also when it is the take's own file that lost it."""
    rebuild_take(take, pytest.fail, mpe=mpe)
    before = content(take)
    played = take / "performance.mid"
    file = played if own else tmp_path / "saved.mid"
    file.write_bytes(without_range(played.read_bytes()))
    told: list[str] = []
    done = rebuild_take(take, told.append, from_midi=file, mpe=mpe)
    assert done.taken is not None
    assert done.taken.edited == frozenset()
    semitones = 48 if mpe else 12
    assert told == [f"{file} says no bend range (RPN 0), so that of the take was taken: {semitones} semitones."]
    assert {name: data for name, data in content(take).items() if name in before} == before


def test_tables_edited_since_are_not_undone(take: Path) -> None:
    """What was edited by hand is in no MIDI file: told, and nothing is written; once rebuilt, it may be taken back."""
    table, midi = take / "inflections.csv", take / "performance.mid"
    midi.write_bytes(transposed(midi.read_bytes(), 5))
    as_made = table.read_text(encoding="utf-8")
    table.write_text(as_made.replace("-95.50", "-60.00", 1), encoding="utf-8")
    before = content(take)
    with pytest.raises(UserError, match=r"edited after performance\.mid was made .* Either run reedwire rebuild"):
        rebuild_take(take, pytest.fail, from_midi=midi)
    assert content(take) == before
    rebuild_take(take, pytest.fail)
    midi.write_bytes(transposed(midi.read_bytes(), 5))
    rebuild_take(take, pytest.fail, from_midi=midi)
    assert "-60.00" in table.read_text(encoding="utf-8")


def notes_of(take: Path) -> dict[int, EditedNote]:
    """The notes as the tables have them, by their id."""
    return {note.id: note for note in opened_take(take, pytest.fail).notes}


def edit(path: Path, old: str, new: str) -> None:
    """Change the first ``old`` in a file, by hand."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


@pytest.fixture(params=["with its mark", "without its mark"])
def copy(take: Path, tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    """A copy of the MIDI file for the sequencer, made before note 2 was bent further by hand and all was rebuilt.

    Not every sequencer keeps the text that says which tables it was made from.
    """
    file = tmp_path / "copy.mid"
    data = (take / "performance.mid").read_bytes()
    file.write_bytes(data if request.param == "with its mark" else without(data, lambda _, m: m.type == "text"))
    edit(take / "inflections.csv", "-95.50", "-60.00")
    rebuild_take(take, pytest.fail)
    return file


def test_a_copy_made_before_a_hand_edit_does_not_undo_it(take: Path, copy: Path) -> None:
    """As it is it brings nothing back; where it was edited, only that; and a second time nothing more."""
    before = content(take)
    told: list[str] = []
    done = rebuild_take(take, told.append, from_midi=copy)
    assert done.taken is not None
    assert (done.taken.edited, done.changed) == (frozenset(), ())
    (line,) = told
    assert line.startswith(f"{copy} was made from the tables in {take / 'before' / '1'}. What was edited in the tables")
    assert content(take) == before
    louder = [
        (at, message.copy(velocity=50) if message.type == "note_on" and message.note == 74 else message)
        for at, message in placed(copy.read_bytes())
    ]
    copy.write_bytes(saved(louder))
    now = notes_of(take)
    done = rebuild_take(take, told.append, from_midi=copy)
    assert done.taken is not None
    assert done.taken.edited == {4}
    assert notes_of(take) == {**now, 4: replace(now[4], velocity=50)}
    assert rebuild_take(take, told.append, from_midi=copy).changed == ()


def test_another_part_of_the_note_that_was_edited_by_hand_comes_back_beside_it(take: Path, copy: Path) -> None:
    """All of the copy a fourth up: the note has the sequencer's number and the curve of the hand."""
    copy.write_bytes(transposed(copy.read_bytes(), 5))
    now = notes_of(take)
    rebuild_take(take, lambda _: None, from_midi=copy)
    after = notes_of(take)
    assert [note.midi_note for note in after.values()] == [72, 76, 76, 79]
    assert [note.points for note in after.values()] == [note.points for note in now.values()]
    assert -60.0 in [point.bend_cents for point in after[2].points]


def test_what_both_have_edited_is_told_and_nothing_is_written(take: Path, copy: Path) -> None:
    """The curve of note 2 drawn flat in the sequencer: told with the note and what of it."""
    first, last = round(0.8 * 1920) - 2, round(2.0 * 1920)
    flat = without(copy.read_bytes(), lambda at, message: message.type == "pitchwheel" and first < at < last)
    copy.write_bytes(flat)
    before = content(take)
    with pytest.raises(UserError, match=r"copy\.mid: note 2: curve: edited in this file and, since .*before/1"):
        rebuild_take(take, pytest.fail, from_midi=copy)
    assert content(take) == before


def test_a_note_taken_out_here_that_was_edited_there_is_told(take: Path, copy: Path) -> None:
    """Both thirds taken out in the sequencer, one of which was bent by hand."""
    copy.write_bytes(without(copy.read_bytes(), lambda _, m: m.type.startswith("note") and m.note == 71))
    with pytest.raises(UserError, match=r"note 2: taken out: edited in this file and"):
        rebuild_take(take, pytest.fail, from_midi=copy)


def test_a_note_that_only_the_sequencer_has_touched_is_gone(take: Path, copy: Path) -> None:
    """The root taken out, beside a third that was bent by hand."""
    now = notes_of(take)
    copy.write_bytes(without(copy.read_bytes(), lambda _, m: m.type.startswith("note") and m.note == 67))
    rebuild_take(take, lambda _: None, from_midi=copy)
    assert notes_of(take) == {number: note for number, note in now.items() if number != 1}


def test_the_mark_tells_versions_apart_that_nothing_else_does(take: Path, tmp_path: Path) -> None:
    """A copy whose root was taken out, which came back; then both thirds: one of them was bent by hand since."""
    copy = tmp_path / "copy.mid"
    shutil.copy(take / "performance.mid", copy)
    edit(take / "inflections.csv", "-95.50", "-60.00")
    rebuild_take(take, pytest.fail)
    copy.write_bytes(without(copy.read_bytes(), lambda _, m: m.type.startswith("note") and m.note == 67))
    rebuild_take(take, lambda _: None, from_midi=copy)
    copy.write_bytes(without(copy.read_bytes(), lambda _, m: m.type.startswith("note") and m.note == 71))
    with pytest.raises(UserError, match=r"note 2: taken out: edited in this file and"):
        rebuild_take(take, pytest.fail, from_midi=copy)


def test_a_copy_of_tables_that_are_kept_no_more_is_refused(take: Path, tmp_path: Path) -> None:
    """Who has thrown ``before`` away is told what to do, and nothing is written; as it is now it can be taken back."""
    copy = tmp_path / "copy.mid"
    shutil.copy(take / "performance.mid", copy)
    edit(take / "inflections.csv", "-95.50", "-60.00")
    rebuild_take(take, pytest.fail)
    shutil.rmtree(take / "before")
    before = content(take)
    with pytest.raises(UserError, match=r"kept no more.* Edit performance\.mid as it is now"):
        rebuild_take(take, pytest.fail, from_midi=copy)
    assert content(take) == before
    done = rebuild_take(take, pytest.fail, from_midi=take / "performance.mid")
    assert done.changed == ()


def test_tables_as_a_hand_has_written_them_stay_where_nothing_comes_back(take: Path) -> None:
    """Other digits for the same numbers are no reason to write a table."""
    edit(take / "inflections.csv", "-95.50", "-95.5")
    before = content(take)
    assert rebuild_take(take, pytest.fail, from_midi=take / "performance.mid").changed == ()
    assert content(take) == before
