"""The harp in hand tuned anew in the middle of the sound: only between notes, and right from the next one on."""

from __future__ import annotations

import csv
from difflib import SequenceMatcher
from math import log2
from pathlib import Path
from statistics import median

import numpy as np
import pytest
import soundfile
import yaml
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from bridge.base.events import AudioBlock, Event, Inflection, NoteOff, NoteOn, PitchPoint
from bridge.wiring.chain import Chain
from bridge.wiring.finding import find_tuning, hear_pitches, tuned_to
from bridge.wiring.offline import transcribe_file
from bridge.wiring.settings import load_settings
from follow.tones import RATE, blocks_of, harmonic_tone
from sounds.phrases import make_phrase, rehearsed_phrase
from sounds.played import at_changing_speed
from wiring.harp_files import harp_file

#: Draw 2 of a C harp, the root in cross position (OEIS A291810; MIDI 1.0, 4.2.1).
ROOT_HZ = 440.0 * 2.0 ** ((67 - 69) / 12)


def tones(lengths_and_rests: list[tuple[float, float]], cents: float = 0.0) -> NDArray[np.float32]:
    """The root again and again, ``cents`` sharp, with so many seconds of sound and of silence."""
    pieces = [np.zeros(round(0.1 * RATE), np.float32)]
    for length_s, rest_s in lengths_and_rests:
        pieces.append(harmonic_tone(ROOT_HZ * 2.0 ** (cents / 1200.0), length_s))
        pieces.append(np.zeros(round(rest_s * RATE), np.float32))
    return np.concatenate(pieces)


class Heard:
    """A chain with all that it says, and each harp with the number of notes that sounded when it was taken."""

    def __init__(self, chain: Chain) -> None:
        self.chain = chain
        self.events: list[Event] = []
        self.harps: list[tuple[int, float]] = []
        chain.add_player(self.events.append)
        chain.add_harp_hearer(lambda held: self.harps.append((self.sounding, held.harp.a4_hz)))

    @property
    def sounding(self) -> int:
        """How many notes sound."""
        return sum(isinstance(event, NoteOn) - isinstance(event, NoteOff) for event in self.events)

    def play(self, samples: NDArray[np.float32]) -> None:
        """Go on with these samples."""
        start = round(self.chain.now_s * RATE)
        for block in blocks_of(samples, 480):
            self.chain.feed(AudioBlock(start + block.start, RATE, block.samples))


@given(
    notes=st.lists(st.tuples(st.floats(0.1, 0.5), st.sampled_from((0.0, 0.03, 0.1, 0.2, 0.3))), min_size=1, max_size=5),
    look_ahead=st.booleans(),
    steady=st.booleans(),
)
@settings(max_examples=12, phases=(Phase.explicit, Phase.reuse, Phase.generate))
def test_no_harp_is_tuned_in_a_note_and_no_note_hangs(
    notes: list[tuple[float, float]], look_ahead: bool, steady: bool
) -> None:
    """However short the rests of a recording that drifts fast, a new A4 waits for one, and every on gets its off.

    What is held back to one delay is only sent to somebody who plays, so that it never comes with a look ahead.
    """
    steady = steady and not look_ahead
    drift = [[0.0, 430.0], [2.0, 450.0], [4.0, 430.0]]
    flags = {"harp.drift": drift, "quantise.steady_delay": steady, "quantise.steady_ms": 200.0}
    heard = Heard(Chain(load_settings(flags=flags), RATE, look_ahead=look_ahead))
    heard.play(tones(notes))
    heard.chain.finish()
    assert heard.harps
    assert {sounding for sounding, _ in heard.harps} == {0}
    assert heard.sounding == 0
    times = [event.time_s for event in heard.events if isinstance(event, NoteOn | NoteOff)]
    assert times == sorted(times)


@pytest.mark.parametrize("gap_s", [0.0, 0.02, 0.1])
def test_notes_that_follow_one_another_have_a_new_a4_from_their_borders_on(gap_s: float) -> None:
    """Blown and drawn without a rest on a tape that goes 2 cents a second sharper, every note lies within 3 cents.

    That is one step of 2 cents and what the tape does within the note. No note sounds when the A4 changes.
    """
    above_root = [0, 700, 400, 1200] * 10
    every_s = 0.4 + gap_s
    drift = [[0.0, 440.0], [60.0, 440.0 * 2.0 ** (120.0 / 1200.0)]]
    heard = Heard(Chain(load_settings(flags={"harp.drift": drift}), RATE, look_ahead=True))
    for place, cents in enumerate(above_root):
        tone = harmonic_tone(ROOT_HZ * 2.0 ** ((cents + 2.0 * every_s * place) / 1200.0), 0.4)
        heard.play(np.concatenate((tone, np.zeros(round(gap_s * RATE), np.float32))))
    heard.chain.finish()
    begun = [event for event in heard.events if isinstance(event, NoteOn)]
    assert [100 * (note.midi_note - begun[0].midi_note) for note in begun] == above_root
    moves = [event for event in heard.events if isinstance(event, Inflection)]
    bends = [median(move.bend_cents for move in moves if move.note_id == note.note_id) for note in begun]
    assert max(map(abs, bends)) < 3.0
    assert {sounding for sounding, _ in heard.harps} == {0}
    assert 440.0 < heard.harps[0][1] < 441.0
    assert 1200.0 * log2(heard.chain.harp.a4_hz / 440.0) > 2.0 * every_s * len(above_root) - 4.0


def test_from_the_next_note_on_the_new_a4_counts() -> None:
    """The root of a harp 10 cents sharp is 10 cents off before, 0 after, and its place in the set stays."""
    heard = Heard(Chain(load_settings(flags={"harp.harps": "A,C"}), RATE))
    heard.chain.change_harp("2")
    heard.play(tones([(0.4, 0.3)], 10.0))
    assert heard.chain.quiet
    heard.chain.retune(440.0 * 2.0 ** (10.0 / 1200.0))
    heard.play(tones([(0.4, 0.3)], 10.0))
    moves = [event for event in heard.events if isinstance(event, Inflection)]
    bends = [median(move.bend_cents for move in moves if move.note_id == number) for number in (1, 2)]
    assert bends == pytest.approx([10.0, 0.0], abs=0.5)
    assert heard.chain.place == 2
    assert heard.chain.harp.sharp_cents == pytest.approx(10.0, abs=0.05)
    tuned = heard.chain.held
    heard.chain.change_harp("1")
    heard.chain.change_harp("next")
    assert heard.chain.held is tuned
    assert heard.chain.harps.find(tuned.word, tuned).facts() == tuned.facts()


def test_a_note_that_sounds_is_not_quiet() -> None:
    """Neither is the moment after it, nor the attack of one that is not sure yet."""
    heard = Heard(Chain(load_settings(), RATE))
    heard.play(tones([(0.4, 0.0)]))
    assert not heard.chain.quiet
    heard.play(np.zeros(round(0.1 * RATE), np.float32))
    assert not heard.chain.quiet
    heard.play(np.zeros(round(0.2 * RATE), np.float32))
    assert heard.chain.quiet


def test_a_harp_that_was_measured_stays_as_it_is(tmp_path: Path) -> None:
    """Its file knows better."""
    chain = Chain(load_settings(flags={"harp.file": harp_file(tmp_path)}), RATE)
    held = chain.held
    chain.retune(430.0)
    assert chain.held is held


def test_a_recording_that_drifts_has_its_root_at_nought_all_along(tmp_path: Path) -> None:
    """From 50 cents flat to 50 sharp in 48 s: the roots of the last third read as those of the first, within 6 cents.

    Next to every note is in its slot; of a take that is heard with one A4 several are in others, and what of its roots
    can still be told by their pitch lies more than 30 cents apart. The take says which A4 was when.
    """
    phrase = make_phrase(4, "A", 2, "low", riffs=22)
    sound = rehearsed_phrase(phrase)
    tape = at_changing_speed(sound.samples, sound.rate, -50.0, 2.1)
    soundfile.write(tmp_path / "tape.wav", tape, sound.rate)
    plain = load_settings(flags={"harp.key": "A", "send.midi.bend_range": 12})
    found = find_tuning(hear_pitches(tmp_path / "tape.wav", plain), plain)
    assert found is not None
    rises, in_slots = [], []
    for name, heard_by in (("followed", tuned_to(plain, found)), ("plain", plain)):
        report = transcribe_file(tmp_path / "tape.wav", tmp_path / name, heard_by)
        rises.append(_rise_of_roots(report.folder))
        in_slots.append(_alike(report.folder, [note.midi for note in phrase.score]))
    assert abs(rises[0]) < 6.0
    assert rises[1] > 30.0
    assert in_slots[0] > 0.98
    assert in_slots[1] < 0.98
    kept = yaml.safe_load((tmp_path / "followed" / "tape" / "take.yaml").read_text(encoding="utf-8"))
    told = kept["settings"]["harp"]["drift"]
    assert told[0][1] == kept["harp"]["a4_hz"]
    for at_s, a4_hz in told:
        assert 1200.0 * log2(a4_hz / 440.0) == pytest.approx(2.1 * at_s - 50.0, abs=6.0)


def _alike(folder: Path, midi: list[int]) -> float:
    """How much of the notes of a take is what was played, 0..1."""
    with (folder / "notes.csv").open(newline="", encoding="utf-8") as file:
        noted = [int(row["midi_note"]) for row in csv.DictReader(file)]
    return SequenceMatcher(None, noted, midi, autojunk=False).ratio()


def _rise_of_roots(folder: Path) -> float:
    """Median cents of the straight roots in the last third of a take, above those in the first."""
    with (folder / "curve.csv").open(newline="", encoding="utf-8") as file:
        points = [(float(row["time_s"]), float(row["cents"]), float(row["hz"])) for row in csv.DictReader(file)]
    roots = [(at_s, (cents + 50.0) % 1200.0 - 50.0) for at_s, cents, hz in points if hz > 0.0]
    near = [(at_s, off) for at_s, off in roots if abs(off) < 40.0]
    end_s = points[-1][0]
    first = [off for at_s, off in near if at_s < end_s / 3.0]
    last = [off for at_s, off in near if at_s > end_s * 2.0 / 3.0]
    return float(np.median(last) - np.median(first))


def test_the_curve_goes_on_through_a_new_a4() -> None:
    """Every frame has its point, in the order of time, whatever is tuned meanwhile."""
    heard = Heard(Chain(load_settings(flags={"harp.drift": [[0.0, 430.0], [2.0, 450.0]]}), RATE, look_ahead=True))
    heard.play(tones([(0.3, 0.3)] * 3))
    heard.chain.finish()
    times = [event.time_s for event in heard.events if isinstance(event, PitchPoint)]
    assert len(heard.harps) > 1
    assert times == sorted(set(times))
