"""Recordings and takes heard as a whole: on which harp, how far, and what cannot be heard again."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
import yaml

from bridge.base.errors import UserError
from bridge.wiring import playings as module
from bridge.wiring.offline import GRANTED, transcribe_file
from bridge.wiring.playings import hear_playing
from bridge.wiring.settings import Settings, load_settings
from sounds.known import KnownSound
from sounds.students import TEACHER, phrase_by, played_by


def on(key: str, *more: str) -> Settings:
    """Settings for a harp in ``key``."""
    return load_settings(sets=more, flags={"harp.key": key}, granted=GRANTED)


def saved(path: Path, sound: KnownSound) -> Path:
    """The sound as a file."""
    soundfile.write(path, sound.samples, sound.rate)
    return path


@pytest.fixture
def take(tmp_path: Path) -> Path:
    """A take of five notes on an A harp of A4 = 440 Hz."""
    recording = saved(tmp_path / "phrase.wav", phrase_by(TEACHER, "A"))
    return transcribe_file(recording, tmp_path, on("A")).folder


def changed(take: Path, **harp: object) -> None:
    """Another harp in take.yaml from 5 s on."""
    path = take / "take.yaml"
    document = yaml.safe_load(path.read_text("utf-8"))
    document["harp_changes"] = [document["harp"] | {"time_s": 5.0} | harp]
    path.write_text(yaml.safe_dump(document), "utf-8")


def test_a_recording_has_its_notes_and_its_sound(tmp_path: Path) -> None:
    """Two thirds with marks, every sample, on the harp of the settings; progress ends at 1."""
    sound = played_by(TEACHER)
    told: list[float] = []
    playing = hear_playing(saved(tmp_path / "two.wav", sound), on("C"), pytest.fail, told.append)
    assert (playing.name, playing.held.name, playing.rate) == ("two.wav", "C harp, cross position", 48000)
    assert len(playing.samples) == len(sound.samples)
    assert [note.marks.settle_cents for note in playing.notes] == pytest.approx([400.0, 400.0], abs=5.0)
    assert playing.zone.straight == 400.0
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_a_take_is_heard_on_its_own_harp(take: Path) -> None:
    """Whatever the settings name, even in two semitones of bend range."""
    playing = hear_playing(take, on("F", "send.midi.bend_range=2"), pytest.fail)
    assert (playing.name, playing.held.name) == ("phrase", "A harp, cross position")
    settled = [note.marks.settle_cents for note in playing.notes]
    assert settled == pytest.approx([0.0, 400.0, 0.0, 400.0, 0.0], abs=5.0)


def test_what_was_played_after_a_change_of_harp_does_not_count(take: Path) -> None:
    """And that is told; a harp that was only tuned anew is the same harp."""
    changed(take, key="F")
    told: list[str] = []
    playing = hear_playing(take, on("C"), told.append)
    assert len(playing.notes) < 5
    assert len(told) == 1
    assert told[0].endswith("the harp is changed at 5.0 s; only what was played before counts.")
    changed(take, a4_hz=441.0)
    assert len(hear_playing(take, on("C"), pytest.fail).notes) == 5


def test_a_take_without_sound_or_harp_is_refused(take: Path) -> None:
    """With what to do."""
    changed(take)
    document = yaml.safe_load((take / "take.yaml").read_text("utf-8"))
    document["harp"]["sought"] = True
    (take / "take.yaml").write_text(yaml.safe_dump(document), "utf-8")
    with pytest.raises(UserError, match="does not tell which harp"):
        hear_playing(take, on("C"), lambda _: None)
    document["harp"]["sought"] = False
    (take / "take.yaml").write_text(yaml.safe_dump(document), "utf-8")
    (take / "sound.wav").unlink()
    with pytest.raises(UserError, match=r"has no sound\.wav"):
        hear_playing(take, on("C"), lambda _: None)


def test_a_lesson_of_an_hour_is_too_long_for_a_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Told as soon as it is seen."""
    monkeypatch.setattr(module, "_MOST_MINUTES", 0.05)
    soundfile.write(tmp_path / "long.wav", np.zeros(5 * 48000, np.float32), 48000)
    with pytest.raises(UserError, match=r"long\.wav is longer than 0\.05 minutes"):
        hear_playing(tmp_path / "long.wav", on("C"), pytest.fail)
