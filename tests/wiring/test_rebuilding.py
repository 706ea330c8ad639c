"""A take rebuilt from its tables, by hand edits and from a sequencer: all or nothing, and nothing is lost."""

from __future__ import annotations

import shutil
from pathlib import Path

import mido
import numpy as np
import pretty_midi
import pytest
import soundfile

from bridge.base.errors import ManyFaultsError, UserError
from bridge.takes import replacing
from bridge.wiring.opening import opened_take
from bridge.wiring.rebuilding import rebuild_take
from cli.commands import run_here
from follow.tones import harmonic_tone
from takes.sequencer import transposed
from takes.spreadsheets import SAVINGS
from wiring.made_takes import PHRASE, content, make_take

DERIVED = {"performance.mid", "tab.txt", "score.musicxml"}


@pytest.fixture
def take(tmp_path: Path) -> Path:
    """The made-up phrase, without sound and with nothing derived yet."""
    path = tmp_path / "phrase"
    make_take(path, sound_s=None)
    return path


def edit(path: Path, old: str, new: str) -> None:
    """Change the first ``old`` in a file."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_all_that_follows_from_the_tables_is_made(take: Path) -> None:
    """MIDI file, tab and score; a second time there is nothing to do, and the tables are never touched."""
    tables = {name: (take / name).read_bytes() for name in ("notes.csv", "inflections.csv")}
    done = rebuild_take(take, pytest.fail)
    assert set(done.changed) == DERIVED
    assert (done.notes, done.before) == (4, None)
    assert (take / "tab.txt").read_text(encoding="utf-8").splitlines()[-1] == "-2 -3 -3 -4"
    assert {name: (take / name).read_bytes() for name in tables} == tables
    before = content(take)
    again = rebuild_take(take, pytest.fail)
    assert (again.changed, again.before) == ((), None)
    assert content(take) == before


def test_the_version_before_is_kept(take: Path) -> None:
    """Each time in a folder of its own; what has not changed is neither written nor copied."""
    rebuild_take(take, pytest.fail)
    old = content(take)
    edit(take / "inflections.csv", "-95.50", "-60.00")
    done = rebuild_take(take, pytest.fail)
    assert "performance.mid" in done.changed
    assert "tab.txt" not in done.changed
    assert done.before == take / "before" / "1"
    assert content(done.before)["performance.mid"] == old["performance.mid"]
    edit(take / "inflections.csv", "-60.00", "-50.00")
    assert rebuild_take(take, pytest.fail).before == take / "before" / "2"
    # The tables that the MIDI file beside them was made from, edited by hand or not.
    kept = [(take / "before" / number / "inflections.csv").read_text(encoding="utf-8") for number in "12"]
    assert ["-95.50" in kept[0], "-60.00" in kept[1]] == [True, True]
    assert kept[0].encode() == old["inflections.csv"]


def test_the_sound_is_not_kept_where_its_tables_are(tmp_path: Path) -> None:
    """It is large, and is made anew from them, to the sample."""
    take = tmp_path / "phrase"
    make_take(take)
    shutil.copytree(take, take / "played", ignore=lambda _, names: {n for n in names if not n.endswith(".csv")})
    edit(take / "notes.csv", "1,0.25000", "1,0.20000")
    # As after the commands that edit: nothing was made yet of what was played, so there is nothing to keep.
    assert rebuild_take(take, lambda _: None).before is None
    sung = (take / "resung.wav").read_bytes()
    edit(take / "notes.csv", "1,0.20000", "1,0.15000")
    before = rebuild_take(take, lambda _: None).before
    assert before is not None
    assert not (before / "resung.wav").exists()
    assert (take / "resung.wav").read_bytes() != sung
    for name in ("notes.csv", "inflections.csv"):
        shutil.copy(before / name, take)
    rebuild_take(take, lambda _: None)
    assert (take / "resung.wav").read_bytes() == sung


def test_what_nobody_hears_is_not_sung(tmp_path: Path) -> None:
    """A velocity is for the synth: the MIDI file has it, and the own sound stays as it was played."""
    take = tmp_path / "phrase"
    make_take(take)
    shutil.copytree(take, take / "played", ignore=lambda _, names: {n for n in names if not n.endswith(".csv")})
    rows = (take / "notes.csv").read_text(encoding="utf-8").splitlines()
    place = rows[0].split(",").index("velocity")
    cells = rows[1].split(",")
    cells[place] = "1"
    (take / "notes.csv").write_text("\n".join([rows[0], ",".join(cells), *rows[2:], ""]), encoding="utf-8")
    assert set(rebuild_take(take, pytest.fail).changed) == DERIVED
    assert not (take / "resung.wav").exists()
    assert min(each.velocity for each in mido.MidiFile(take / "performance.mid") if each.type == "note_on") == 1
    (take / "sound.wav").unlink()
    assert not rebuild_take(take, pytest.fail).soundless


def test_nothing_is_written_while_anything_is_wrong(take: Path) -> None:
    """All faults of both tables are told, and every file stays as it was."""
    rebuild_take(take, pytest.fail)
    edit(take / "notes.csv", "71", "seventy-one")
    edit(take / "inflections.csv", "-95.50", "low")
    before = content(take)
    with pytest.raises(ManyFaultsError) as raised:
        rebuild_take(take, pytest.fail)
    assert len(raised.value.errors) == 2
    assert content(take) == before


def test_a_fault_while_files_are_made_leaves_all_as_it_was(take: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also a disk that fills up in between: no file is half, none is gone."""
    rebuild_take(take, pytest.fail)
    edit(take / "inflections.csv", "-95.50", "-60.00")
    before = content(take)

    def full(_folder: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(replacing, "_sync", full)
    with pytest.raises(UserError, match="No space left on device"):
        rebuild_take(take, pytest.fail)
    assert {name: data for name, data in content(take).items() if not name.startswith("before")} == before


def test_an_edited_take_with_sound_is_the_same_a_second_time(tmp_path: Path) -> None:
    """Its note is a tone (B4, MIDI 1.0) in noise: also what has no pitch is sung the same, byte for byte."""
    path = make_take(tmp_path / "sung", PHRASE[1:2], sound_s=None).folder.path
    samples = 0.05 * np.random.default_rng(5).standard_normal(2 * 48000)
    samples[40000:90000] += harmonic_tone(493.9, 50000 / 48000)
    soundfile.write(path / "sound.wav", samples, 48000, subtype="PCM_24")
    for name in ("notes.csv", "inflections.csv"):
        (path / "played").mkdir(exist_ok=True)
        shutil.copyfile(path / name, path / "played" / name)
    edit(path / "inflections.csv", "-95.50", "-60.00")
    assert "resung.wav" in rebuild_take(path, pytest.fail).changed
    before = content(path)
    assert rebuild_take(path, pytest.fail).changed == ()
    assert content(path) == before


@pytest.mark.parametrize("saving", sorted(SAVINGS))
def test_tables_saved_by_a_spreadsheet_give_the_same_files(take: Path, saving: str) -> None:
    """Byte for byte what the tables as written give."""
    rebuild_take(take, pytest.fail)
    made = {name: (take / name).read_bytes() for name in DERIVED}
    for name in ("notes.csv", "inflections.csv"):
        (take / name).write_bytes(SAVINGS[saving]((take / name).read_text(encoding="utf-8")))
    assert rebuild_take(take, pytest.fail).changed == ()
    assert {name: (take / name).read_bytes() for name in DERIVED} == made


@pytest.mark.parametrize("mpe", [False, True])
def test_the_take_s_own_midi_file_brings_nothing_back(take: Path, mpe: bool) -> None:
    """An edit that changes nothing: both tables stay byte for byte."""
    rebuild_take(take, pytest.fail, mpe=mpe)
    before = content(take)
    done = rebuild_take(take, pytest.fail, from_midi=take / "performance.mid", mpe=mpe)
    assert done.taken is not None
    assert done.taken.edited == frozenset()
    assert content(take) == before


def test_what_was_transposed_comes_back_with_degree_and_reed(take: Path) -> None:
    """A fourth up from G, B, B, D it is C, E, E, G; hole and degree follow, the tables before are kept."""
    rebuild_take(take, pytest.fail)
    midi, before = take / "performance.mid", content(take)
    midi.write_bytes(transposed(midi.read_bytes(), 5))
    done = rebuild_take(take, pytest.fail, from_midi=midi)
    notes = opened_take(take, pytest.fail).notes
    assert [note.midi_note for note in notes] == [72, 76, 76, 79]
    assert [note.degree for note in notes] == ["4", "6", "6", "1"]
    # Hole 4 to 6 blown on a C harp: C5, E5, G5 (OEIS A291810); the long third is mostly bent, which no blow 5 is.
    assert (notes[0].hole, notes[0].air) == (4, "blow")
    assert (notes[3].hole, notes[3].air) == (6, "blow")
    assert [note.points for note in notes] == [note.points for note in PHRASE]
    assert done.before is not None
    assert content(done.before)["notes.csv"] == before["notes.csv"]


def test_a_known_tempo_is_that_of_the_midi_file(take: Path) -> None:
    """90 quarters a minute, three in a bar, and a marker where bar 1 lies, on a bar line; times stay what they were."""
    with (take / "take.yaml").open("a", encoding="utf-8") as file:
        file.write("tempo: {quarters_per_minute: 90, bar_1_s: 0.25, quarters_in_bar: 3}\n")
    rebuild_take(take, pytest.fail)
    file = mido.MidiFile(take / "performance.mid")
    told = {message.type: message for message in file.tracks[0]}
    assert mido.tempo2bpm(told["set_tempo"].tempo) == pytest.approx(90.0, abs=0.001)
    assert (told["time_signature"].numerator, told["time_signature"].denominator) == (3, 4)
    assert told["marker"].text == "bar 1"
    pretty = pretty_midi.PrettyMIDI(str(take / "performance.mid"))
    assert pretty.get_downbeats()[:3] == pytest.approx([0.0, 0.25, 2.25], abs=1e-4)
    assert [note.start for note in pretty.instruments[0].notes] == pytest.approx(
        [note.start_s for note in PHRASE], abs=60 / 90 / 960
    )


def test_bends_beyond_the_range_widen_it(take: Path) -> None:
    """A bend of five semitones in the table is one in the file, which says its range."""
    edit(take / "inflections.csv", "-95.50", "-500.00")
    rebuild_take(take, pytest.fail)
    messages = list(mido.MidiFile(take / "performance.mid").tracks[1])
    (semitones,) = (m.value for m in messages if m.type == "control_change" and m.control == 6)
    assert semitones == 6
    deepest = min(message.pitch for message in messages if message.type == "pitchwheel")
    assert deepest / 8192 * 600 == pytest.approx(-500.0, abs=0.1)


def test_tables_that_are_gone_come_back_as_played(take: Path) -> None:
    """Of a take of a recording, which has no journal."""
    played = take / "played"
    played.mkdir()
    for name in ("notes.csv", "inflections.csv"):
        shutil.move(take / name, played / name)
    told: list[str] = []
    assert opened_take(take, told.append).notes == PHRASE
    assert [line.endswith(f"put back from {played}, as it was when the take was played.") for line in told] == [
        True
    ] * 2


def test_without_tables_or_anything_to_make_them_of_it_is_told(take: Path) -> None:
    """With what to do."""
    (take / "inflections.csv").unlink()
    with pytest.raises(UserError, match=r"has no inflections\.csv, and neither journal\.jsonl nor played"):
        rebuild_take(take, pytest.fail)


def test_the_command_says_what_it_wrote(
    take: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line for the take, one for what came back; faults line by line, with status 2."""
    status, out, err = run_here(capsys, monkeypatch, "rebuild", str(take))
    assert (status, err) == (0, "")
    assert out == f"{take}: 4 notes in 3.8 s; wrote performance.mid, score.musicxml, tab.txt.\n"
    midi = take / "performance.mid"
    midi.write_bytes(transposed(midi.read_bytes(), 5))
    status, out, _ = run_here(capsys, monkeypatch, "rebuild", str(take), "--from", str(midi))
    assert out.startswith(f"{midi}: 4 notes edited.\n{take}: 4 notes in 3.8 s; wrote notes.csv, performance.mid, ")
    assert out.endswith(f"; what was there before is in {take / 'before' / '1'}.\n")
    status, out, _ = run_here(capsys, monkeypatch, "rebuild", str(take))
    assert out.endswith("all files say so already, nothing was written.\n")
    edit(take / "notes.csv", ",96,", ",960,")
    edit(take / "notes.csv", ",96,", ",0,")
    status, out, err = run_here(capsys, monkeypatch, "rebuild", str(take))
    assert (status, out) == (2, "")
    assert [line.split(": ")[2] for line in err.splitlines()] == ["velocity", "velocity"]


def test_what_is_not_edited_keeps_the_midi_file_that_was_played(take: Path) -> None:
    """It has every frame and the brightness; an edit takes it away, and taking that back brings it back to the byte."""
    played = take / "played"
    played.mkdir()
    for name in ("notes.csv", "inflections.csv"):
        shutil.copy(take / name, played / name)
    rebuild_take(take, pytest.fail)
    from_tables = (take / "performance.mid").read_bytes()
    file = mido.MidiFile(take / "performance.mid")
    file.tracks[1].insert(-1, mido.Message("control_change", control=74, value=99))
    file.save(played / "performance.mid")
    as_played = (played / "performance.mid").read_bytes()
    done = rebuild_take(take, pytest.fail)
    assert (done.as_played, done.changed) == (True, ("performance.mid",))
    assert (take / "performance.mid").read_bytes() == as_played
    assert not rebuild_take(take, pytest.fail, mpe=True).as_played
    edit(take / "inflections.csv", "-95.50", "-60.00")
    assert not rebuild_take(take, pytest.fail).as_played
    assert (take / "performance.mid").read_bytes() not in (as_played, from_tables)
    edit(take / "inflections.csv", "-60.00", "-95.50")
    assert rebuild_take(take, pytest.fail).as_played
    assert (take / "performance.mid").read_bytes() == as_played


def test_a_known_tempo_is_written_although_nothing_is_edited(take: Path) -> None:
    """The file as it was played has no beats: with a tempo it is made from the tables."""
    shutil.copytree(take, take / "played", ignore=lambda _, names: {name for name in names if name.endswith(".yaml")})
    rebuild_take(take, pytest.fail)
    shutil.copy(take / "performance.mid", take / "played")
    with (take / "take.yaml").open("a", encoding="utf-8") as file:
        file.write("tempo: {quarters_per_minute: 90, bar_1_s: 0.25}\n")
    assert not rebuild_take(take, pytest.fail).as_played
    tempos = [message.tempo for message in mido.MidiFile(take / "performance.mid").tracks[0] if "tempo" in message.type]
    assert set(tempos) == {mido.bpm2tempo(90)}
