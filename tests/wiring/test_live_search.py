"""``--harp auto`` in a live performance: nothing is sent until the phrase has told the harp."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import yaml

from bridge.base.commands import ChangeHarp, Command
from bridge.base.events import NoteOff, NoteOn, Status
from bridge.base.records import decode
from bridge.wiring.chain import Chain
from bridge.wiring.settings import load_settings
from follow.tones import RATE, harmonic_tone
from sounds.phrases import make_phrase, rehearsed_phrase
from sounds.played import Played
from wiring.stand_ins import Ear, Orders, run

SETTINGS = load_settings(flags={"harp.key": "auto", "capture.paced": False})
FIRST = "Which harp is it? Play a phrase and rest; until it is known nothing is sent."


class Meter:
    """What the meter would have been told."""

    def __init__(self) -> None:
        self.harps: list[str] = []
        self.sought: list[bool] = []
        self.notes = 0

    def came(self, at_s: float) -> None:
        """When does not matter."""

    def show(self, data: bytes) -> bool:
        """Note the harp."""
        record = decode(data)
        if isinstance(record, Status) and record.harp not in self.harps[-1:]:
            self.harps.append(record.harp)
            self.sought.append(record.sought)
        self.notes += isinstance(record, NoteOn)
        return True

    def poll_commands(self) -> list[Command]:
        """No keys."""
        return []


@pytest.fixture(scope="module")
def phrase() -> Played:
    """A phrase on an A harp in cross position at 442 Hz, and it again after a rest of a second."""
    sound = rehearsed_phrase(make_phrase(5, "A", 2, riffs=6, a4_hz=442.0))
    rest = np.zeros(sound.rate, np.float32)
    return Played(np.concatenate([sound.samples, rest, sound.samples[: 4 * sound.rate]]), sound.rate)


def test_a_phrase_tells_the_harp_and_what_follows_is_sent(phrase: Played, tmp_path: Path) -> None:
    """Nothing sounds before the harp is told, with certainty and runner-up; from then on notes come with degrees."""
    ear, meter, said = Ear(), Meter(), list[str]()
    begun: dict[str, int] = {}

    def notice(line: str) -> None:
        said.append(line)
        begun[line] = len(ear.notes)

    report = run(
        phrase,
        ear,
        settings=SETTINGS,
        displays=[meter],
        take=tmp_path,
        notice=notice,
    )
    assert said[0] == FIRST
    told = next(line for line in said if line.startswith(("Found: ", "Uncertain which harp: ")))
    assert "A harp, cross position (" in told
    assert "A4 44" in told
    assert begun[told] == 0
    assert report.notes >= 5
    assert ear.notes == ["NoteOn", "NoteOff"] * report.notes
    assert meter.notes == report.notes
    assert meter.harps == ["harp not known yet", "A harp, cross position"]
    assert meter.sought == [True, False]
    assert report.folder is not None
    kept = yaml.safe_load((report.folder / "take.yaml").read_text(encoding="utf-8"))
    assert kept["harp"]["sought"]
    (change,) = kept["harp_changes"]
    assert (change["key"], change["position"]) == ("A", 2)
    assert change["a4_hz"] == pytest.approx(442.0, abs=1.0)
    assert "sought" not in change


@pytest.mark.parametrize("named", ["C", "low-C"])
@pytest.mark.parametrize("then", ["1", "next", "previous"])
def test_a_harp_that_the_player_names_takes_the_place_of_the_one_that_is_sought(named: str, then: str) -> None:
    """Any harp that there is, also one like what stands for it; no way leads back to where nothing is sent."""
    chain = Chain(SETTINGS, RATE)
    assert chain.change_harp(named)
    assert (chain.harp.key, chain.place, chain.held.sought) == (named, 1, False)
    assert not chain.change_harp(then)
    assert chain.change_harp("Bb")
    chain.change_harp(then)
    assert (chain.harp.key, chain.held.sought) == (named, False)


def test_a_harp_that_the_player_names_ends_the_search() -> None:
    """From then on notes are sent, and nothing more is said of which harp it may be."""
    sound = rehearsed_phrase(make_phrase(1, "C", 2, riffs=3))
    ear, said = Ear(), list[str]()
    report = run(
        Played(sound.samples, sound.rate),
        ear,
        settings=SETTINGS,
        notice=said.append,
        inputs=[Orders({100: ChangeHarp("low-C"), 200: ChangeHarp("C"), 300: ChangeHarp("1"), 400: ChangeHarp("C")})],
    )
    assert said == [FIRST]
    assert report.notes >= 8
    assert ear.notes == ["NoteOn", "NoteOff"] * report.notes


def test_too_few_notes_tell_no_harp() -> None:
    """One note again and again leaves it open: nothing is sent, and nothing is claimed."""
    note = np.concatenate([harmonic_tone(440.0, 0.3), np.zeros(round(0.3 * RATE), np.float32)])
    ear, said = Ear(), list[str]()
    report = run(Played(np.tile(note, 10), RATE), ear, settings=SETTINGS, notice=said.append)
    assert (ear.notes, report.notes) == ([], 0)
    first, last = said
    assert first == FIRST
    assert last.startswith("The harp was not found, so nothing was sent: 10 pitches were held. Play")
    assert not [event for event in ear.heard if isinstance(event, NoteOn | NoteOff)]
