"""Edits of a take: a new take each, the old one untouched, and nothing else changed than what was asked for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import yaml

from bridge.base.errors import UserError
from bridge.cli.edit_words import difference_lines
from bridge.harp.settings import HarpSettings
from bridge.takes.choosing import Choice, parse_degrees, parse_ids
from bridge.takes.edited import Breakpoint, EditedNote, Tempo
from bridge.takes.settled import settled
from bridge.takes.tempo_choice import KnownTempo
from bridge.wiring import edited_take
from bridge.wiring.edited_take import usual_name, write_edited
from bridge.wiring.editing import Edit, edit_bends, edit_harp, edit_settled, edit_starts, edit_straight, straight_of
from bridge.wiring.opening import OpenedTake, opened_take
from bridge.wiring.played_notes import played_notes
from bridge.wiring.rebuilding import rebuild_take
from bridge.wiring.splicing import edit_cut
from wiring.made_takes import PHRASE, content, make_take, stored

TEMPO = KnownTempo(Tempo(100.0, 0.1), "option")
THIRDS = Choice(degrees=parse_degrees("3"))
TABLES = ("notes.csv", "inflections.csv")


def written(edit: Edit, parent: Path) -> OpenedTake:
    """The new take, opened as any other."""
    return opened_take(write_edited(edit, parent, usual_name(edit)).path, lambda _: None)


EDITS: dict[str, Callable[[OpenedTake], Edit]] = {
    "scale-bends": lambda take: edit_bends(take, THIRDS, 0.5),
    "settle": lambda take: edit_settled(take, THIRDS, to_cents=350.0, by_cents=0.0),
    "straighten": lambda take: edit_straight(take, Choice(), keep_scoop=True, keep_release=True),
    "quantise": lambda take: edit_starts(take, TEMPO, 0.5, 0.6, 0.8),
    "transpose": lambda take: edit_harp(take, HarpSettings(key="A", position=3)),
    "cut": lambda take: edit_cut(take, 1.0, 3.0),
}
NOTHING: dict[str, Callable[[OpenedTake], Edit]] = {
    "bends as played": lambda take: edit_bends(take, THIRDS, 1.0),
    "moved by nothing": lambda take: edit_settled(take, Choice(), to_cents=None, by_cents=0.0),
    "no strength": lambda take: edit_starts(take, TEMPO, 0.25, 0.667, 0.0),
    "the same harp": lambda take: edit_harp(take, HarpSettings()),
    "the whole": lambda take: edit_cut(take, 0.0, None),
}


@pytest.mark.parametrize("name", EDITS)
def test_an_edit_makes_a_new_take_and_leaves_the_old_one(tmp_path: Path, name: str) -> None:
    """Not one byte of the old one is another; the new one can be opened, and says what was done to which take."""
    take = make_take(tmp_path / "phrase")
    before = content(tmp_path / "phrase")
    edit = EDITS[name](take)
    new = written(edit, tmp_path)
    assert content(tmp_path / "phrase") == before
    assert new.folder.path == tmp_path / f"phrase-{name}"
    assert [note.id for note in new.notes] == [note.id for note in edit.notes]
    document = yaml.safe_load((new.folder.path / "take.yaml").read_text(encoding="utf-8"))
    (said,) = document["edited"]
    assert (said["edit"], said["made_from"]) == (name, "phrase")
    assert {"performance.mid", "tab.txt", "sound.wav"} <= set(content(new.folder.path))
    assert edit.changes
    if name != "cut":
        assert content(new.folder.path)["sound.wav"] == before["sound.wav"]
        assert played_notes(new) == PHRASE


@pytest.mark.parametrize("name", NOTHING)
def test_an_edit_that_changes_nothing_gives_the_same_tables(tmp_path: Path, name: str) -> None:
    """Byte for byte, and so is the sound."""
    take = make_take(tmp_path / "phrase")
    edit = NOTHING[name](take)
    assert edit.changes == []
    old, new = content(take.folder.path), content(written(edit, tmp_path).folder.path)
    assert {table: new[table] for table in TABLES} == {table: old[table] for table in TABLES}
    np.testing.assert_array_equal(stored(take.folder.sound), stored(tmp_path / f"phrase-{edit.name}" / "sound.wav"))


def test_bends_are_scaled_around_the_players_own_third(tmp_path: Path) -> None:
    """On a harp in 7-limit just tuning: draw 3 -12, draw 2 +2, so 14 cents low (O. Hansson, table 8B); halved: -57."""
    take = make_take(tmp_path / "phrase", harp={"temperament": "just-7-limit"})
    assert straight_of(take, take.notes[1]) == pytest.approx(-13.69, abs=0.01)
    flat = edit_bends(take, THIRDS, 0.0)
    assert {round(point.bend_cents, 2) for note in flat.notes[1:3] for point in note.points} == {-13.69}
    assert edit_bends(take, THIRDS, 0.5).notes[1].points[0].bend_cents == pytest.approx(-56.84, abs=0.01)
    assert flat.notes[0] == take.notes[0]


def test_only_the_chosen_notes_change(tmp_path: Path) -> None:
    """By number and by time; where nothing is meant it is said."""
    take = make_take(tmp_path / "phrase")
    assert [
        change.before.id for change in edit_bends(take, Choice(ids=parse_ids("3")), 0.5).changes if change.before
    ] == [3]
    assert [change.before.id for change in edit_bends(take, Choice(to_s=2.0), 0.5).changes if change.before] == [2]
    with pytest.raises(UserError, match="None of the notes is meant"):
        edit_bends(take, Choice(degrees=parse_degrees("b7")), 0.5)
    with pytest.raises(UserError, match="no note 9"):
        edit_bends(take, Choice(ids=parse_ids("9")), 0.5)


def test_a_third_settles_where_it_is_told_to(tmp_path: Path) -> None:
    """At 350 cents above the root, a quarter tone: 50 under the note, whatever its octave; then 10 higher."""
    take = make_take(tmp_path / "phrase", [replace(PHRASE[1], midi_note=83), PHRASE[2]])
    edit = edit_settled(take, THIRDS, to_cents=350.0, by_cents=0.0)
    assert [settled(note).bend_cents for note in edit.notes] == pytest.approx([-50.0, -50.0])
    assert edit.notes[0].points[0].bend_cents == -100.0
    higher = edit_settled(take, THIRDS, to_cents=None, by_cents=10.0)
    assert [settled(note).bend_cents for note in higher.notes] == pytest.approx([-2.25, -20.0])


def test_transposing_there_and_back_is_where_it_was(tmp_path: Path) -> None:
    """Through a real take in between, without sound: numbers, times, notes, degrees and bends."""
    take = make_take(tmp_path / "phrase", sound_s=None)
    there = written(edit_harp(take, HarpSettings(key="A", position=1, a4_hz=443.0)), tmp_path)
    assert [note.midi_note for note in there.notes] == [57, 61, 61, 64]
    assert there.harps[0].harp is not None
    assert (there.harps[0].harp.key, there.harps[0].harp.position, there.harps[0].harp.a4_hz) == ("A", 1, 443.0)
    assert (there.settings.harp.key, there.settings.harp.position) == ("A", 1)
    # Root, third and fifth of first position are blown in holes 1, 2 and 3 (layout OEIS A291810).
    assert [(note.hole, note.air) for note in (there.notes[0], there.notes[3])] == [(1, "blow"), (3, "blow")]
    back = written(edit_harp(there, take.settings.harp), tmp_path)

    def without_reed(note: EditedNote) -> EditedNote:
        return replace(note, hole=None, air="", reed="", reed_bend_cents=None, or_else="")

    assert [without_reed(note) for note in back.notes] == [without_reed(note) for note in take.notes]
    assert [edit["edit"] for edit in yaml.safe_load(back.folder.description.read_text(encoding="utf-8"))["edited"]] == [
        "transpose",
        "transpose",
    ]
    assert played_notes(back) == PHRASE


def test_what_cannot_be_played_is_told_and_kept(tmp_path: Path) -> None:
    """D4, a fourth under the root of cross, is G3 in first position: below hole 1 of a C harp, C4 (OEIS A291810)."""
    take = make_take(tmp_path / "phrase", [replace(PHRASE[0], midi_note=62), PHRASE[3]])
    edit = edit_harp(take, HarpSettings(key="C", position=1))
    assert [note.midi_note for note in edit.notes] == [55, 67]
    (told,) = edit.told
    assert told.startswith("Note 1 (G3) cannot be played on the C harp, first position")
    assert difference_lines(edit)[2].split("  ")[-1].endswith("draw 2 -> cannot be played")
    there = written(edit, tmp_path)
    first = there.notes[0]
    assert (first.hole, first.air, first.reed) == (None, "", "")
    rebuild_take(there.folder.path, pytest.fail, sing=False)
    assert there.folder.tab.read_text(encoding="utf-8").splitlines()[-2:] == ["?", "-2?"]


def test_a_harp_that_is_not_known_cannot_be_moved_from(tmp_path: Path) -> None:
    """Said with what to do."""
    take = make_take(tmp_path / "phrase")
    unknown = replace(take, harps=(replace(take.harps[0], held=None),))
    with pytest.raises(UserError, match=r"not known.*take\.yaml"):
        edit_harp(unknown, HarpSettings())
    with pytest.raises(UserError, match=r"not known.*take\.yaml"):
        edit_settled(unknown, THIRDS, to_cents=350.0, by_cents=0.0)


def test_the_tempo_that_was_quantised_to_is_that_of_the_take(tmp_path: Path) -> None:
    """So that the score of the new take has its beats."""
    new = written(EDITS["quantise"](make_take(tmp_path / "phrase")), tmp_path)
    assert new.tempo == Tempo(100.0, 0.1)


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_half_a_take_is_taken_away_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    """A full disk is told with the folder; after Ctrl-C too nothing is left that looks like a take."""
    take = make_take(tmp_path / "phrase")

    def full(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(edited_take, "rebuild_take", full)
    with pytest.raises((UserError, KeyboardInterrupt)) as caught:
        write_edited(EDITS["scale-bends"](take), tmp_path / "out", "new")
    assert list((tmp_path / "out").iterdir()) == []
    if isinstance(error, OSError):
        assert "No space left" in str(caught.value)


def test_a_name_that_is_taken_is_never_written_over(tmp_path: Path) -> None:
    """The next one gets a number."""
    take = make_take(tmp_path / "phrase")
    folders = [write_edited(EDITS["settle"](take), tmp_path, "new").path.name for _ in range(2)]
    assert folders == ["new", "new-2"]


def test_thirds_on_the_edge_are_all_told_alike(tmp_path: Path) -> None:
    """A quarter tone under draw 3 is as near to its bend: however each begins, all settle there and are straight."""
    scoops = [(-150.0, 0.1), (-120.0, 0.22), (-60.0, 0.3), (-200.0, 0.05), (10.0, 0.25), (-90.0, 0.31)]
    notes = [
        replace(PHRASE[2], id=number, start_s=float(number), length_s=0.8, points=points)
        for number, (first, until) in enumerate(scoops, start=1)
        for points in [(Breakpoint(0.0, first, 0.5), Breakpoint(until, -3.0, 0.5), Breakpoint(0.8, 0.0, 0.5))]
    ]
    take = make_take(tmp_path / "thirds", notes, sound_s=None)
    edit = edit_settled(take, Choice(), to_cents=350.0, by_cents=0.0)
    assert [(note.hole, note.air, note.reed) for note in edit.notes] == [(3, "draw", "straight")] * len(scoops)
    assert not any("bend" in line for line in difference_lines(edit))
