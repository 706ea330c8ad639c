"""Which sound plays along with a take that is sent: never one that differs from the notes without a word."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile

from bridge.wiring.opening import opened_take
from bridge.wiring.rebuilding import rebuild_take
from bridge.wiring.replay_making import reach_of, sound_of
from follow.tones import harmonic_tone
from wiring.made_takes import PHRASE, make_take


@pytest.fixture
def take(tmp_path: Path) -> Path:
    """The third of the phrase as a tone (B4, MIDI 1.0), just played."""
    path = make_take(tmp_path / "third", PHRASE[1:2], sound_s=None).folder.path
    samples = np.zeros(2 * 48000)
    samples[38400:96000] = harmonic_tone(493.88 * 2.0 ** (-12.25 / 1200.0), 57600 / 48000)
    soundfile.write(path / "sound.wav", samples, 48000, subtype="PCM_24")
    (path / "played").mkdir()
    for name in ("notes.csv", "inflections.csv"):
        shutil.copyfile(path / name, path / "played" / name)
    rebuild_take(path, pytest.fail)
    return path


def said(take: Path) -> str:
    """What is said of the sound that would be played."""
    told: list[str] = []
    opened = opened_take(take, pytest.fail)
    sound_of(opened, reach_of(opened, 0.0, None, 1.0, loop=False), "default", told.append)
    (line,) = told
    return line


def bend(take: Path, old: str, new: str) -> None:
    """Change the third by hand."""
    text = (take / "inflections.csv").read_text(encoding="utf-8")
    assert old in text
    (take / "inflections.csv").write_text(text.replace(old, new), encoding="utf-8")


def differs(take: Path, name: str, lacks: str) -> str:
    """The line that says so."""
    what_to_do = f"To have it sung to them: reedwire rebuild {take}"
    return f"The sound is that of {name}, {lacks}: notes and sound differ. {what_to_do}"


def test_a_sound_that_is_not_that_of_the_notes_is_told(take: Path) -> None:
    """Edited, sung, edited again, put back: each time what is played is the nearest, and whether it agrees is said."""
    assert said(take) == "The sound is that of sound.wav."
    bend(take, "-12.25", "-50.00")
    assert said(take) == differs(take, "sound.wav", "without the edits")
    rebuild_take(take, pytest.fail)
    assert said(take) == "The sound is that of resung.wav."
    bend(take, "-50.00", "-60.00")
    assert said(take) == differs(take, "resung.wav", "sung before the last edits")
    rebuild_take(take, pytest.fail, sing=False)
    assert said(take) == differs(take, "resung.wav", "sung before the last edits")
    rebuild_take(take, pytest.fail)
    assert said(take) == "The sound is that of resung.wav."
    bend(take, "-60.00", "-12.25")
    assert said(take) == "The sound is that of sound.wav."


def test_what_is_told_of_degree_and_reed_is_in_no_sound(take: Path) -> None:
    """Who corrects a hole need not sing anew."""
    bend(take, "-12.25", "-50.00")
    rebuild_take(take, pytest.fail)
    table = take / "notes.csv"
    text = table.read_text(encoding="utf-8")
    assert ",3,draw," in text
    table.write_text(text.replace(",3,draw,", ",7,draw,"), encoding="utf-8")
    assert said(take) == "The sound is that of resung.wav."


def test_a_take_of_an_older_program_is_compared_with_its_last_tables(take: Path) -> None:
    """It does not say what its sound was sung from."""
    bend(take, "-12.25", "-50.00")
    rebuild_take(take, pytest.fail)
    (take / "rebuilt" / "sung.txt").unlink()
    assert said(take) == "The sound is that of resung.wav."
    bend(take, "-50.00", "-60.00")
    assert said(take) == differs(take, "resung.wav", "sung before the last edits")
