"""``--tune auto`` in a live performance: A4 goes to where the player's straight notes have it, between notes only."""

from __future__ import annotations

from math import log2
from pathlib import Path

import numpy as np
import pytest
import yaml

from bridge.base.commands import ChangeHarp, Command
from bridge.base.events import Event, Inflection, NoteOff, NoteOn
from bridge.send.pitch import SentPitch, sent_pitch
from bridge.wiring.live import LiveReport
from bridge.wiring.settings import load_settings
from follow.tones import RATE, harmonic_tone
from sounds.phrases import make_phrase, rehearsed_phrase
from sounds.played import Played
from wiring.harp_files import harp_file
from wiring.stand_ins import Ear, Orders, run

#: How far a harp at 445 Hz lies above one at 440, cents.
SHARP = 1200.0 * log2(445.0 / 440.0)


class Tuned(Ear):
    """An output that notes by which tuning each event went out, and the pitch in cents of each note's end on A4 = 440.

    The pitch of a note is what a synth at A4 = 440 Hz sounds (MIDI 1.0, 4.2.1).
    """

    def __init__(self, pitch: SentPitch) -> None:
        super().__init__()
        self.pitch = pitch
        self.offsets: list[float] = []
        self.in_notes: list[float] = []
        self.sounded: list[float] = []
        self._note = 0
        self._cents = 0.0

    def send(self, event: Event) -> None:
        """Note it."""
        super().send(event)
        self.offsets.append(self.pitch.offset_cents)
        if isinstance(event, NoteOn):
            self._note = event.midi_note
            self.in_notes.append(self.pitch.offset_cents)
        elif isinstance(event, Inflection):
            self._cents = 100.0 * self._note + self.pitch.cents(event.bend_cents)
            # Nothing moves inside a note.
            assert self.pitch.offset_cents == self.in_notes[-1]
        elif isinstance(event, NoteOff):
            assert self.pitch.offset_cents == self.in_notes[-1]
            self.sounded.append(self._cents)


def performed(
    tmp_path: Path, synth_pitch: str = "played", a4_hz: float = 445.0, **more: object
) -> tuple[Tuned, list[str], LiveReport]:
    """A phrase on an A harp in cross position, what it sent, what was told and what came of it."""
    settings = load_settings(flags={"harp.key": "A", "harp.tune": "auto", "send.synth_pitch": synth_pitch})
    ear = Tuned(sent_pitch(settings.send, 0.0))
    said: list[str] = []
    sound = rehearsed_phrase(make_phrase(5, "A", 2, riffs=7, a4_hz=a4_hz))
    take = tmp_path / synth_pitch
    take.mkdir()
    report = run(
        Played(sound.samples, sound.rate),
        ear,
        settings=settings,
        pitch=ear.pitch,
        take=take,
        notice=said.append,
        **more,
    )
    return ear, said, report


def test_the_a4_is_found_in_small_steps_and_told(tmp_path: Path) -> None:
    """A harp at 445 Hz ends within 5 cents of it, no step is wider than 5 cents, and each is one line on the meter."""
    ear, said, report = performed(tmp_path)
    steps = np.diff(sorted(set(ear.in_notes)))
    assert len(steps) >= 2
    assert max(steps) < 5.1
    assert sorted(ear.in_notes) == ear.in_notes
    assert ear.in_notes[0] == 0.0
    assert ear.in_notes[-1] == pytest.approx(SHARP, abs=5.0)
    assert ear.notes == ["NoteOn", "NoteOff"] * report.notes
    *said, last = said
    assert all(line.startswith("A4 taken as 44") for line in said)
    assert last == f"A4 was {said[-1].split()[3]} Hz at the end."
    assert "on the way to 44" in said[0]
    assert "straight roots, give or take" in said[0]
    kept = yaml.safe_load((report.folder / "take.yaml").read_text(encoding="utf-8")) if report.folder else {}
    assert kept["harp"]["a4_hz"] == 440.0
    changes = [change["a4_hz"] for change in kept["harp_changes"]]
    assert len(changes) == len(said)
    assert [f"{a4_hz:.1f} Hz" in line for a4_hz, line in zip(changes, said, strict=True)] == [True] * len(said)


def test_what_sounds_stays_as_played_and_the_band_gets_it_in_tune(tmp_path: Path) -> None:
    """As played the last note sounds where it was played all along; for the band it comes down to A4 = 440 Hz."""
    played, _, _ = performed(tmp_path)
    band, _, _ = performed(tmp_path, "band")
    assert len(band.sounded) == len(played.sounded)
    assert band.sounded[0] == pytest.approx(played.sounded[0], abs=0.1)
    assert played.in_notes[-1] == pytest.approx(SHARP, abs=5.0)
    assert played.sounded[-1] - band.sounded[-1] == pytest.approx(played.in_notes[-1], abs=0.1)
    assert set(band.in_notes) == {0.0}


def test_a_harp_that_is_in_tune_is_left_alone(tmp_path: Path) -> None:
    """At the A4 that is set nothing is changed, and nothing told."""
    ear, said, _ = performed(tmp_path, a4_hz=440.0)
    assert said == []
    assert set(ear.in_notes) == {0.0}


@pytest.mark.parametrize(
    ("semitones", "cents"), [(7 + 4, -20.0), (7, -50.0)], ids=["the third", "a root bent by a quarter tone"]
)
def test_bends_and_thirds_move_nothing(semitones: int, cents: float) -> None:
    """However often a C harp's draw 3 is played 20 cents flat, or its draw 2 bent, A4 stays."""
    hz = 440.0 * 2.0 ** ((60 + semitones + cents / 100.0 - 69) / 12.0)
    note = np.concatenate([harmonic_tone(hz, 0.3), np.zeros(round(0.3 * RATE), np.float32)])
    settings = load_settings(flags={"harp.tune": "auto"})
    said: list[str] = []
    ear = Ear()
    run(Played(np.tile(note, 8), RATE), ear, settings=settings, notice=said.append)
    assert ear.notes == ["NoteOn", "NoteOff"] * 8
    assert said == []


def test_another_harp_begins_anew_and_a_measured_one_stays(tmp_path: Path) -> None:
    """What was heard on one harp says nothing of the next, and a harp with a file is not tuned at all."""
    root = harmonic_tone(440.0 * 2.0 ** ((67 - 69 + 0.12) / 12.0), 0.3)
    sound = np.tile(np.concatenate([root, np.zeros(round(0.3 * RATE), np.float32)]), 10)
    settings = load_settings(flags={"harp.harps": f"C,{harp_file(tmp_path)}", "harp.tune": "auto"})
    in_time: list[tuple[dict[int, Command], bool]] = [({}, True), ({10: ChangeHarp("2")}, False)]
    for orders, tuned in in_time:
        said: list[str] = []
        run(Played(sound, RATE), Ear(), settings=settings, notice=said.append, inputs=[Orders(orders)])
        assert bool(said) == tuned
