"""Notes far beyond the end of the sound are refused at their line, and nothing is written for them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import mido
import pytest

from bridge.base.errors import UserError
from bridge.takes.folder import TakeFolder
from bridge.takes.inflections import inflections_csv
from bridge.takes.latest import Latest
from bridge.takes.notes import notes_csv
from bridge.wiring.opening import opened_take
from bridge.wiring.rebuilding import rebuild_take
from takes.made_notes import edited
from wiring.made_takes import PHRASE, content, make_take


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        (
            "4,3.30000",
            "4,33000",
            r"notes\.csv:5: start_s: found 33000\.0, allowed: up to 604\.00000 s, as the sound .*4\.0",
        ),
        ("4,3.30000,0.50000", "4,3.3,50000", r"notes\.csv:5: length_s: found 50000\.0, allowed: up to 600\.70000 s, "),
    ],
)
def test_a_slip_in_a_time_writes_no_silence(tmp_path: Path, old: str, new: str, complaint: str) -> None:
    """Ten minutes after the end of the sound of four seconds are enough for anybody."""
    take = make_take(tmp_path / "phrase").folder.path
    text = (take / "notes.csv").read_text(encoding="utf-8")
    assert old in text
    (take / "notes.csv").write_text(text.replace(old, new), encoding="utf-8")
    before = content(take)
    with pytest.raises(UserError, match=complaint):
        rebuild_take(take, pytest.fail)
    assert content(take) == before


def test_a_late_note_of_a_sequencer_is_refused_too(tmp_path: Path) -> None:
    """By the file and the note, before anything is written."""
    take = make_take(tmp_path / "phrase").folder.path
    rebuild_take(take, pytest.fail, sing=False)
    before = content(take)
    file = mido.MidiFile(take / "performance.mid")
    last = [message for track in file.tracks for message in track if message.type == "note_on"][-1]
    last.time += 40_000_000
    file.save(tmp_path / "late.mid")
    with pytest.raises(UserError, match=r"late\.mid: note 4: start_s: found 2\d+\.\d+, allowed: up to 604\.0"):
        rebuild_take(take, lambda _: None, from_midi=tmp_path / "late.mid")
    assert content(take) == before


def test_notes_that_went_on_when_the_sound_did_not_are_right(tmp_path: Path) -> None:
    """A disk that was full ends the sound, not the playing: what was played may be edited."""
    late = [*PHRASE, replace(PHRASE[3], id=5, start_s=4000.0)]
    take = make_take(tmp_path / "phrase", sound_s=None, notes=late).folder.path
    played = TakeFolder(take).played
    played.path.mkdir()
    played.notes.write_text(notes_csv(late), encoding="utf-8")
    played.inflections.write_text(inflections_csv(late), encoding="utf-8")
    (make_take(tmp_path / "other").folder.sound).rename(take / "sound.wav")
    assert len(opened_take(take, pytest.fail).notes) == 5
    assert not list(Latest(TakeFolder(take))(edited(6, 4599.0, 1.0, 67)))
    assert [fault.column for fault in Latest(TakeFolder(take))(edited(6, 4700.0, 1.0, 67))] == ["start_s"]


def test_without_sound_there_is_nothing_to_be_silent(tmp_path: Path) -> None:
    """Whoever writes a long piece by hand may."""
    take = make_take(tmp_path / "phrase", sound_s=None).folder
    assert not list(Latest(take)(edited(6, 40_000.0, 1.0, 67)))


def test_a_note_without_length_is_refused_unless_it_was_played_so(tmp_path: Path) -> None:
    """At its line; one that began as the player was stopped is his, and opens."""
    notes = [PHRASE[0], replace(PHRASE[3], length_s=0.0)]
    take = make_take(tmp_path / "phrase").folder
    take.notes.write_text(notes_csv(notes), encoding="utf-8")
    take.inflections.write_text(inflections_csv(notes), encoding="utf-8")
    with pytest.raises(
        UserError, match=r"notes\.csv:3: length_s: found 0\.0, allowed: more than 0 s; to take a note out"
    ):
        opened_take(take.path, pytest.fail)
    take.played.path.mkdir()
    take.played.notes.write_text(notes_csv(notes), encoding="utf-8")
    take.played.inflections.write_text(inflections_csv(notes), encoding="utf-8")
    assert len(opened_take(take.path, pytest.fail).notes) == 2
