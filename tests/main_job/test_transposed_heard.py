"""A take with sound on another harp: tables, MIDI file and sung sound tell one pitch, that of the other harp's reed.

Truth: where reeds lie is O. Hansson, Theory of harmonica tuning (2004-06), table 8B, in whole cents, and MIDI 1.0's
tuning; what is heard is Praat's, which has no part in choosing the pitch; the MIDI file is read by pretty_midi.
"""

from __future__ import annotations

import math
import shutil
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pretty_midi
import pytest
import soundfile

from bridge.harp.settings import HarpSettings
from bridge.takes.edited import Breakpoint
from bridge.wiring.edited_take import write_edited
from bridge.wiring.editing import edit_harp
from bridge.wiring.opening import OpenedTake, opened_take
from follow.tones import harmonic_tone
from sounds.praat import settled_hz
from sounds.tuned import SEVEN_LIMIT, equal_hz, midi_of
from takes.made_notes import edited
from wiring.made_takes import make_take

RATE = 48000
EQUAL = dict.fromkeys(SEVEN_LIMIT, 0.0)
COMPROMISE = {reed: cents / 2.0 for reed, cents in SEVEN_LIMIT.items()}
WORN = {**EQUAL, "draw 2": -20.0, "draw 3": -5.0, "draw 4": 8.0}
#: What is played: a degree, and how far below its straight reed.
PLAYED = (("1", 0.0), ("3", 0.0), ("3", -40.0), ("5", 0.0))
CROSS = {"1": "draw 2", "3": "draw 3", "5": "draw 4"}
FIRST = {"1": "blow 1", "3": "blow 2", "5": "blow 3"}
STARTS_S, LENGTH_S = (0.3, 1.3, 2.3, 3.3), 0.8
#: Half of what musicians just notice (10 cents, Arndt et al. 2020); the table's own cents are whole ones.
HEARD_CENTS, TOLD_CENTS = 5.0, 1.0


@dataclass(frozen=True)
class Harp:
    """A harp by where its reeds lie; ``file`` that they were measured."""

    key: str
    a4_hz: float
    offsets: Mapping[str, float]
    temperament: str = "equal"
    position: int = 2
    measured: bool = False

    @property
    def reeds(self) -> Mapping[str, str]:
        """The reed of each degree."""
        return CROSS if self.position == 2 else FIRST

    def hz(self, degree: str, bend_cents: float) -> float:
        """The pitch of a degree, bent from its straight reed."""
        reed = self.reeds[degree]
        ratio: float = 2.0 ** ((self.offsets[reed] + bend_cents) / 1200.0)
        return equal_hz(midi_of(reed, self.key), self.a4_hz) * ratio

    def bend(self, degree: str, bend_cents: float) -> float:
        """What a table tells of that: from equal temperament over the root as the harp has it."""
        return self.offsets[self.reeds[degree]] - self.offsets[self.reeds["1"]] + bend_cents

    def settings(self, folder: Path) -> HarpSettings:
        """The harp as it is asked for."""
        if not self.measured:
            return HarpSettings.model_validate(
                {"key": self.key, "a4_hz": self.a4_hz, "temperament": self.temperament, "position": self.position}
            )
        reeds = "".join(f"  {reed}: {{offset_cents: {cents}}}\n" for reed, cents in self.offsets.items())
        file = folder / f"{self.key}.yaml"
        head = f"format: 1\ndate: 2026-11-25\nkey: {self.key}\na4_hz: {self.a4_hz}\nreeds:\n"
        file.write_text(head + reeds, encoding="utf-8")
        return HarpSettings.model_validate({"file": str(file), "position": self.position})


EQUAL_C = Harp("C", 440.0, EQUAL)
JUST_C = Harp("C", 440.0, SEVEN_LIMIT, "just-7-limit")
WAYS = {
    "just to equal in another key": (JUST_C, Harp("A", 440.0, EQUAL)),
    "equal to just": (EQUAL_C, JUST_C),
    "just to just at another A4": (JUST_C, Harp("A", 443.0, SEVEN_LIMIT, "just-7-limit")),
    "another A4 only": (EQUAL_C, Harp("C", 432.0, EQUAL)),
    "equal to a compromise": (EQUAL_C, Harp("D", 440.0, COMPROMISE, "compromise")),
    "measured to equal": (Harp("C", 441.0, WORN, measured=True), EQUAL_C),
    "just to measured": (JUST_C, Harp("A", 440.0, WORN, measured=True)),
    "cross on a just harp to first on a just one": (JUST_C, Harp("D", 440.0, SEVEN_LIMIT, "just-7-limit", position=1)),
}


def played(harp: Harp, folder: Path) -> OpenedTake:
    """A take of the notes on that harp, a tone each at its pitch."""
    settings = harp.settings(folder)
    notes = []
    for number, (start_s, (degree, bend)) in enumerate(zip(STARTS_S, PLAYED, strict=True), start=1):
        reed = harp.reeds[degree]
        points = (Breakpoint(0.0, harp.bend(degree, bend), 0.5),)
        note = edited(number, start_s, LENGTH_S, midi_of(reed, harp.key), degree=degree, points=points)
        air, hole = reed.split(" ")
        notes.append(replace(note, hole=int(hole), air=air, reed="straight", reed_bend_cents=bend))
    path = folder / "phrase"
    make_take(path, notes, sound_s=None, harp=settings.model_dump())
    samples = 1e-4 * np.random.default_rng(1).standard_normal(round((STARTS_S[-1] + LENGTH_S + 0.3) * RATE))
    for start_s, (degree, bend) in zip(STARTS_S, PLAYED, strict=True):
        tone = harmonic_tone(harp.hz(degree, bend), LENGTH_S)
        samples[round(start_s * RATE) : round(start_s * RATE) + len(tone)] += tone
    soundfile.write(path / "sound.wav", samples, RATE, subtype="PCM_24")
    (path / "played").mkdir()
    for name in ("notes.csv", "inflections.csv"):
        shutil.copyfile(path / name, path / "played" / name)
    return opened_take(path, pytest.fail)


@pytest.fixture(scope="module", params=WAYS)
def way(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Harp, Path]:
    """The other harp, and the take that went over to it."""
    folder = tmp_path_factory.mktemp("transposed")
    one, other = WAYS[request.param]
    edit = edit_harp(played(one, folder), other.settings(folder))
    return other, write_edited(edit, folder, "there").path


def test_tables_tell_the_reeds_of_the_other_harp(way: tuple[Harp, Path]) -> None:
    """What was straight is straight there, and what was bent is as far below it."""
    other, path = way
    notes = opened_take(path, pytest.fail).notes
    assert [note.midi_note for note in notes] == [midi_of(other.reeds[degree], other.key) for degree, _ in PLAYED]
    assert [note.points[0].bend_cents for note in notes] == pytest.approx(
        [other.bend(degree, bend) for degree, bend in PLAYED], abs=TOLD_CENTS
    )
    assert [note.degree for note in notes] == [degree for degree, _ in PLAYED]
    assert [f"{note.air} {note.hole}" for note in notes] == [other.reeds[degree] for degree, _ in PLAYED]


def test_the_sound_is_that_of_the_other_harp(way: tuple[Harp, Path]) -> None:
    """Praat hears each note where its reed lies on it."""
    other, path = way
    samples, rate = soundfile.read(path / "resung.wav", dtype="float32")
    for start_s, (degree, bend) in zip(STARTS_S, PLAYED, strict=True):
        wanted = other.hz(degree, bend)
        heard = settled_hz(samples, rate, start_s, start_s + LENGTH_S - 0.03, wanted / 1.3, wanted * 1.3)
        assert 1200.0 * math.log2(heard / wanted) == pytest.approx(0.0, abs=HEARD_CENTS)


def test_the_midi_file_says_the_same(way: tuple[Harp, Path]) -> None:
    """Note number and bend, over a range of two semitones, are the pitch at A4 = 440 Hz (MIDI 1.0, 4.2.1)."""
    other, path = way
    (instrument,) = pretty_midi.PrettyMIDI(str(path / "performance.mid")).instruments
    for note, (degree, bend) in zip(sorted(instrument.notes, key=lambda one: one.start), PLAYED, strict=True):
        before = [one.pitch for one in instrument.pitch_bends if one.time <= note.start]
        said = equal_hz(note.pitch + before[-1] / 8192 * 2.0 if before else note.pitch, 440.0)
        assert 1200.0 * math.log2(said / other.hz(degree, bend)) == pytest.approx(0.0, abs=2.0 * TOLD_CENTS)


@pytest.mark.parametrize("name", WAYS)
def test_the_sound_goes_there_and_back(name: str, tmp_path: Path) -> None:
    """Transposed twice, the second time back: tables byte for byte, and no note sounds otherwise than played."""
    one, other = WAYS[name]
    take = played(one, tmp_path)
    there = write_edited(edit_harp(take, other.settings(tmp_path)), tmp_path, "there")
    back = write_edited(edit_harp(opened_take(there.path, pytest.fail), one.settings(tmp_path)), tmp_path, "back")
    assert back.inflections.read_bytes() == take.folder.inflections.read_bytes()
    assert (back.played.path / "inflections.csv").read_bytes() == (take.folder.played.inflections).read_bytes()
    sung = back.path / "resung.wav"
    if sung.exists():
        np.testing.assert_array_equal(soundfile.read(sung)[0], soundfile.read(take.folder.sound)[0])
