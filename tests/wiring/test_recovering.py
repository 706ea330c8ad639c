"""A take that was stopped half-way is made whole: nothing finished is lost, nothing that is there is touched."""

from __future__ import annotations

import csv
import json
import re
import shutil
import time
from pathlib import Path

import mido
import numpy as np
import pytest
import soundfile

from bridge.base.errors import UserError
from bridge.wiring.harps import harp_set
from bridge.wiring.opening import opened_take
from bridge.wiring.rebuilding import rebuild_take
from bridge.wiring.recovering import recover_take
from bridge.wiring.settings import load_settings
from bridge.wiring.told_harps import harp_from_facts
from cli.commands import run_here
from wiring.harp_files import harp_file
from wiring.performance_cut import Performance

PLAYED = ("played/notes.csv", "played/inflections.csv", "played/performance.mid")
DERIVED = (*PLAYED, "notes.csv", "inflections.csv", "tab.txt", "performance.mid", "score.musicxml")


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A take that was written to its end."""
    performance = Performance(tmp_path_factory.mktemp("takes"))
    performance.play()
    assert performance.said == []
    return performance.folder.path


@pytest.fixture
def stopped(whole: Path, tmp_path: Path) -> Path:
    """The same take without what is derived at the end."""
    copy = tmp_path / "one"
    shutil.copytree(whole, copy)
    for name in DERIVED:
        (copy / name).unlink()
    description = (copy / "take.yaml").read_text(encoding="utf-8")
    (copy / "take.yaml").write_text(re.sub(r"bar_1_s: \d.*", "bar_1_s: 0.0", description, count=1), encoding="utf-8")
    return copy


def _score(take: Path) -> str:
    """The score without the bends, which the thinner curve of a recovered take has a little otherwise."""
    return re.sub(r" bend=\S+?(?=[ <])", "", (take / "score.musicxml").read_text(encoding="utf-8"))


def _rows(take: Path) -> list[dict[str, str]]:
    with (take / "notes.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _messages(take: Path) -> list[tuple[float, bytes]]:
    """Seconds and bytes of every channel message, as mido reads the file."""
    seconds, found = 0.0, []
    for message in mido.MidiFile(take / "performance.mid"):
        seconds += message.time
        if not message.is_meta:
            found.append((seconds, bytes(message.bytes())))
    return found


def test_what_is_made_is_what_the_writer_would_have_made(whole: Path, stopped: Path) -> None:
    """Notes, tempo, tab, score and MIDI file come out the same, times to ten microseconds (one tick in MIDI)."""
    recovered = recover_take(stopped, pytest.fail)
    assert recovered.made == ("take.yaml", *DERIVED)
    made, written = _rows(stopped), _rows(whole)
    assert recovered.notes == len(made) == len(written) >= 50
    for one, other in zip(made, written, strict=True):
        for column in ("start_s", "length_s"):
            assert float(one.pop(column)) == pytest.approx(float(other.pop(column)), abs=2.1e-5)
        # The curve keeps 250 rows a second, the writer heard every frame.
        bend, heard = one.pop("reed_bend_cents"), other.pop("reed_bend_cents")
        assert float(bend) == pytest.approx(float(heard), abs=3.0)
    assert made == written
    assert (stopped / "tab.txt").read_text() == (whole / "tab.txt").read_text()
    assert (stopped / "take.yaml").read_text() == (whole / "take.yaml").read_text()
    assert _score(stopped) == _score(whole)
    one_file, other_file = _messages(stopped), _messages(whole)
    notes = [[(at, data) for at, data in file if data[0] & 0xE0 == 0x80] for file in (one_file, other_file)]
    assert [data for _, data in notes[0]] == [data for _, data in notes[1]]
    assert [at for at, _ in notes[0]] == pytest.approx([at for at, _ in notes[1]], abs=0.0011)
    # The journal's numbers have four decimals: here and there a value falls to the other side of a step.
    assert len(one_file) == pytest.approx(len(other_file), rel=0.01)
    assert len(set(one_file) ^ set(other_file)) < 0.2 * len(other_file)


def test_a_tempo_changed_by_hand_is_left(whole: Path, tmp_path: Path) -> None:
    """A take that came to its end has settled its tempo: a score that is gone is made by what is said now."""
    copy = tmp_path / "one"
    shutil.copytree(whole, copy)
    description = (copy / "take.yaml").read_text(encoding="utf-8")
    changed = re.sub(r"bar_1_s: \d.*", "bar_1_s: 7.0", description, count=1)
    (copy / "take.yaml").write_text(changed, encoding="utf-8")
    (copy / "score.musicxml").unlink()
    assert recover_take(copy, pytest.fail).made == ("score.musicxml",)
    assert (copy / "take.yaml").read_text(encoding="utf-8") == changed


def test_a_whole_take_stays_as_it_is(whole: Path, tmp_path: Path) -> None:
    """Nothing is made, and notes edited by hand are not touched."""
    copy = tmp_path / "one"
    shutil.copytree(whole, copy)
    (copy / "notes.csv").write_text("id\n7\n")
    before = {path: path.read_bytes() for path in copy.rglob("*.*")}
    assert recover_take(copy, pytest.fail).made == ()
    assert {path: path.read_bytes() for path in copy.rglob("*.*")} == before


@pytest.mark.parametrize("until_s", [0.3, 4.1, 11.7])
def test_a_killed_writer_costs_no_finished_note(tmp_path: Path, until_s: float) -> None:
    """Killed at any moment: every note that had ended is there, and all sound but the last half second."""
    performance = Performance(tmp_path)
    performance.play(until_s)
    performance.kill()
    take = performance.folder.path
    recovered = recover_take(take, pytest.fail)
    assert set(DERIVED) <= set(recovered.made)
    ids = [int(row["id"]) for row in _rows(take)]
    assert ids[: len(performance.ended)] == [note.note_id for note in performance.ended]
    assert recovered.notes - len(performance.ended) in (0, 1)
    sound, rate = soundfile.read(take / "sound.wav")
    assert performance.heard_s - 0.5 <= len(sound) / rate <= performance.heard_s + 0.01
    assert recover_take(take, pytest.fail).made == ()


def test_a_take_that_is_still_being_written_is_left_alone(tmp_path: Path) -> None:
    """Made whole now, it would be written over at its end, with all that was edited in it until then."""
    performance = Performance(tmp_path)
    performance.play(until_s=1.0)
    give_up_s = time.monotonic() + 30.0
    while not performance.folder.sound.exists() and time.monotonic() < give_up_s:
        time.sleep(0.02)
    before = {path.name for path in performance.folder.path.iterdir()}
    for opening in (recover_take, opened_take, rebuild_take):
        with pytest.raises(UserError, match="is still being written"):
            opening(performance.folder.path, pytest.fail)
    assert {path.name for path in performance.folder.path.iterdir()} == before
    performance.writer.finish()
    assert performance.writer.complete
    assert opened_take(performance.folder.path, pytest.fail).notes


def test_torn_last_lines_are_left_out(stopped: Path) -> None:
    """Half a line at the end of what is appended is nobody's fault, and costs only itself."""
    for name in ("journal.jsonl", "curve.csv"):
        data = (stopped / name).read_bytes()
        (stopped / name).write_bytes(data[:-7])
    assert recover_take(stopped, pytest.fail).notes == len(_rows(stopped)) >= 50


@pytest.mark.parametrize(
    ("name", "line", "told"),
    [
        ("journal.jsonl", '{"is":"on","note_id":', "no event of a take"),
        ("journal.jsonl", '{"is":"song"}', "no event of a take .*song"),
        ("journal.jsonl", '{"is":"off","note_id":1}', "no event of a take"),
        ("journal.jsonl", "[]", "no event of a take"),
        ("curve.csv", "1.0,2.0,three,4,5,6", "no row of six numbers"),
        ("curve.csv", "1.0,2.0", "no row of six numbers"),
    ],
)
def test_a_line_that_is_wrong_is_told_with_its_place(stopped: Path, name: str, line: str, told: str) -> None:
    """File and line are named, and nothing is made."""
    path = stopped / name
    lines = path.read_text(encoding="utf-8").splitlines()
    lines[3] = line
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    with pytest.raises(UserError, match=rf"{name}:4: {told}"):
        recover_take(stopped, pytest.fail)
    assert not (stopped / "notes.csv").exists()


def test_a_header_that_is_behind_is_mended(stopped: Path) -> None:
    """Sound that was written but not counted is found again by another library."""
    path = stopped / "sound.wav"
    data = bytearray(path.read_bytes())
    sound, rate = soundfile.read(path, dtype="int32")
    data[40:44] = (3 * rate).to_bytes(4, "little")
    path.write_bytes(bytes(data) + b"\1\2")
    assert len(soundfile.read(path)[0]) == rate
    assert "sound.wav" in recover_take(stopped, pytest.fail).made
    np.testing.assert_array_equal(soundfile.read(path, dtype="int32")[0], sound)


def test_a_change_of_harp_is_followed(stopped: Path) -> None:
    """The notes after it have the holes of the new harp, as the journal says which it was."""
    lines = (stopped / "journal.jsonl").read_text().splitlines()
    change = {"is": "harp", "time_s": 0.0, "key": "D", "position": 2, "a4_hz": 440.0}
    change |= {"layout": "richter", "temperament": "equal"}
    (stopped / "journal.jsonl").write_text("\n".join([json.dumps(change), *lines]) + "\n")
    recover_take(stopped, pytest.fail)
    assert (stopped / "tab.txt").read_text().splitlines()[2] == "D harp, cross position:"


def test_the_harp_of_a_harp_file_is_known_from_the_take_alone(tmp_path: Path) -> None:
    """Reeds that were measured are in the take, so that the file may be gone."""
    path = Path(harp_file(tmp_path))
    held = harp_set(load_settings(flags={"harp.file": str(path)}).harp).harps[0]
    path.unlink()
    found = harp_from_facts(held.facts(), pytest.fail)
    assert found is not None
    assert [reed.hz for reed in found.reeds] == pytest.approx([reed.hz for reed in held.harp.reeds])


def test_a_harp_that_is_unknown_now_costs_only_the_holes(stopped: Path) -> None:
    """A layout file that is gone is told, and the notes are made without holes."""
    text = (stopped / "take.yaml").read_text(encoding="utf-8")
    (stopped / "take.yaml").write_text(text.replace("  layout: richter", "  layout: gone.yaml", 1), encoding="utf-8")
    told: list[str] = []
    assert recover_take(stopped, told.append).notes >= 50
    assert {row["hole"] for row in _rows(stopped)} == {""}
    assert len(told) == 1
    assert "gone.yaml" in told[0]


def test_the_command_says_what_it_made(
    stopped: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line a take; what is no take is told, the others are done, and the status is 2."""
    status, out, err = run_here(capsys, monkeypatch, "recover", str(stopped), str(stopped.parent), str(stopped))
    assert status == 2
    first, second = out.splitlines()
    assert first.endswith(f"made take.yaml, {', '.join(DERIVED)}.")
    assert second.endswith("it is whole, nothing was to be made.")
    assert err == f"reedwire: {stopped.parent} holds no take.yaml, so it is no take. Give the folder of one.\n"


def test_a_take_without_a_note_is_said_to_be_one(
    stopped: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Perhaps nobody has played, perhaps the power went too soon: nobody can tell from an empty journal."""
    (stopped / "journal.jsonl").write_text("", encoding="utf-8")
    status, out, _ = run_here(capsys, monkeypatch, "recover", str(stopped))
    assert status == 0
    assert " 0 notes in " in out
    assert out.endswith(" It holds no note: none was played, or none had reached the disk.\n")


def test_a_table_that_is_gone_comes_back_as_it_was_played(whole: Path, tmp_path: Path) -> None:
    """From ``played``, to the last digit; what is there is not touched."""
    copy = tmp_path / "one"
    shutil.copytree(whole, copy)
    before = (copy / "inflections.csv").read_bytes()
    (copy / "inflections.csv").unlink()
    told: list[str] = []
    assert recover_take(copy, told.append).made == ("inflections.csv",)
    assert (copy / "inflections.csv").read_bytes() == before
    assert told[0].endswith(f" It was put back from {copy / 'played'}, as it was when the take was played.")
