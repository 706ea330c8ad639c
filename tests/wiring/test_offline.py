"""A recording becomes a take folder, and a bad one leaves nothing behind."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from bridge.base.errors import SoundError, UserError
from bridge.base.events import Event, NoteOff, NoteOn
from bridge.takes.writer import TakeWriter
from bridge.wiring.offline import transcribe_file
from bridge.wiring.settings import load_settings
from follow.tones import RATE, harmonic_tone
from full_disk import open_files

SETTINGS = load_settings(flags={"harp.key": "C"})


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    """Half a second of D5, blow-free fourth draw: the fifth in cross position."""
    path = tmp_path / "fifth.wav"
    quiet = np.zeros(RATE // 4, np.float32)
    soundfile.write(path, np.concatenate([quiet, harmonic_tone(587.33, 0.5), quiet]), RATE)
    return path


def test_a_recording_becomes_a_take(recording: Path, tmp_path: Path) -> None:
    """The folder is named after the file and holds the files of a take; progress ends at 1."""
    told: list[float] = []
    report = transcribe_file(recording, tmp_path / "takes", SETTINGS, told.append)
    assert report.folder == tmp_path / "takes" / "fifth"
    assert {path.name for path in report.folder.iterdir()} == {
        "take.yaml",
        "curve.csv",
        "sound.wav",
        "notes.csv",
        "inflections.csv",
        "tab.txt",
        "performance.mid",
        "score.musicxml",
        "played",
    }
    assert report.notes == 1
    assert report.seconds == pytest.approx(1.0, abs=0.01)
    assert told == sorted(told)
    assert told[-1] == 1.0
    header, row = (report.folder / "notes.csv").read_text().splitlines()
    assert header == "id,start_s,length_s,midi_note,degree,velocity,hole,air,reed,reed_bend_cents,or_else"
    fields = row.split(",")
    assert float(fields[1]) == pytest.approx(0.25, abs=0.01)
    assert float(fields[2]) == pytest.approx(0.5, abs=0.02)
    assert fields[3:5] == ["74", "5"]
    assert fields[6:9] == ["4", "draw", "straight"]
    assert float(fields[9]) == pytest.approx(0.0, abs=1.0)
    assert fields[10] == ""
    *_, tab = (report.folder / "tab.txt").read_text(encoding="utf-8").splitlines()
    assert tab == "-4"


def test_the_sound_is_kept_as_it_was_heard(recording: Path, tmp_path: Path) -> None:
    """``sound.wav`` holds every sample of the recording in its place (libsndfile reads both), to 24 bits."""
    report = transcribe_file(recording, tmp_path, SETTINGS)
    given, _ = soundfile.read(recording)
    kept, rate = soundfile.read(report.folder / "sound.wav")
    assert rate == RATE
    assert len(kept) == len(given)
    assert np.abs(kept - given).max() <= 2.0**-23


@pytest.mark.parametrize("rate", [8000, 44100])
def test_the_sound_of_another_rate_keeps_its_time(rate: int, tmp_path: Path) -> None:
    """The times of the tables are those of ``sound.wav``: it is written at the rate that was listened at."""
    path = tmp_path / "slow.wav"
    soundfile.write(path, np.sin(np.arange(rate) * 2.0 * np.pi * 440.0 / rate) * 0.5, rate)
    report = transcribe_file(path, tmp_path, SETTINGS)
    kept = soundfile.info(report.folder / "sound.wav")
    assert kept.samplerate == SETTINGS.capture.rate_hz
    assert kept.duration == pytest.approx(1.0, abs=0.001)


@pytest.mark.parametrize("preset", ["classroom", None])
def test_no_sound_is_kept_where_it_is_switched_off(preset: str | None, recording: Path, tmp_path: Path) -> None:
    """By the preset for the classroom, where pupils speak, or by the setting alone."""
    flags: dict[str, object] = {"harp.key": "C"} if preset else {"harp.key": "C", "takes.keep_sound": False}
    report = transcribe_file(recording, tmp_path, load_settings(preset, flags=flags))
    assert not (report.folder / "sound.wav").exists()
    assert (report.folder / "notes.csv").exists()


@pytest.mark.parametrize(("tab", "word"), [("signs", "-4"), ("arrows", "4↓"), ("letters", "4D")])
def test_the_tab_is_written_as_it_is_set(recording: Path, tmp_path: Path, tab: str, word: str) -> None:
    """Each convention has its legend on top and its word for draw 4 (common practice, no source)."""
    settings = load_settings(flags={"harp.key": "C", "harp.tab": tab})
    report = transcribe_file(recording, tmp_path / "takes", settings)
    legend, *_, phrase = (report.folder / "tab.txt").read_text(encoding="utf-8").splitlines()
    assert word.replace("4", "3") in legend
    assert phrase == word


def test_a_take_is_never_overwritten(recording: Path, tmp_path: Path) -> None:
    """The same recording again goes into a folder beside the first, which stays as it is."""
    first = transcribe_file(recording, tmp_path, SETTINGS)
    (first.folder / "notes.csv").write_text("edited by hand\n")
    second = transcribe_file(recording, tmp_path, SETTINGS)
    assert second.folder != first.folder
    assert (first.folder / "notes.csv").read_text() == "edited by hand\n"


def test_a_silent_recording_leaves_no_folder(tmp_path: Path) -> None:
    """Silence is an error that says what to check, and nothing is left in the folder of takes."""
    path = tmp_path / "silent.wav"
    soundfile.write(path, np.zeros(RATE, np.float32), RATE)
    with pytest.raises(SoundError, match="silent"):
        transcribe_file(path, tmp_path / "takes", SETTINGS)
    assert not list((tmp_path / "takes").iterdir())


@pytest.mark.parametrize("fault", [KeyboardInterrupt, ZeroDivisionError])
def test_what_was_broken_off_leaves_no_folder(
    fault: type[BaseException], recording: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After Ctrl-C or a fault in the middle there is no half of a take; what happened comes out, with no file open.

    Nobody waits until the files of what goes away are derived, which takes seconds for a long recording.
    """
    handles = open_files()
    monkeypatch.setattr(TakeWriter, "finish", lambda _: pytest.fail("derived for nothing"))

    def broken_off(_: object) -> None:
        raise fault

    with pytest.raises(fault):
        transcribe_file(recording, tmp_path / "takes", SETTINGS, watch=broken_off)
    assert not list((tmp_path / "takes").iterdir())
    assert open_files() == handles


def test_a_report_names_the_harp_and_every_event_is_watched(recording: Path, tmp_path: Path) -> None:
    """The harp of the settings in words; one note's beginning and end among what is watched."""
    seen: list[Event] = []
    report = transcribe_file(recording, tmp_path, SETTINGS, watch=seen.append)
    assert report.harp == "C harp, cross position"
    assert [type(event) for event in seen if isinstance(event, NoteOn | NoteOff)] == [NoteOn, NoteOff]


def test_a_folder_that_cannot_be_made_is_told(recording: Path, tmp_path: Path) -> None:
    """A file where the folder of takes should be gives one clear message."""
    (tmp_path / "takes").write_text("in the way")
    with pytest.raises(UserError, match="takes"):
        transcribe_file(recording, tmp_path / "takes", SETTINGS)


def test_what_can_be_read_of_a_damaged_recording_is_kept(tmp_path: Path) -> None:
    """A recording cut off in its middle is an error that says so and where the notes up to there lie."""
    cut = tmp_path / "cut.wav"
    soundfile.write(cut, harmonic_tone(587.33, 4.0), RATE)
    whole = cut.read_bytes()
    cut.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(UserError, match=r"cut short.*takes/cut"):
        transcribe_file(cut, tmp_path / "takes", SETTINGS)
    rows = (tmp_path / "takes" / "cut" / "notes.csv").read_text().splitlines()
    assert len(rows) == 2
    assert float(rows[1].split(",")[2]) == pytest.approx(2.0, abs=0.05)
