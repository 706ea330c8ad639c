"""The harp in hand tuned anew in the middle of the sound: only in silence, and right from the next note on."""

from __future__ import annotations

import csv
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
    """However short the rests of a recording that drifts fast, a new A4 waits for one, and every on gets its off."""
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
    """From 12 cents flat to 12 sharp in 48 s: the roots of the last third read as those of the first, within 6 cents.

    Heard with one A4 they lie some 16 cents apart. The take says which A4 was when.
    """
    sound = rehearsed_phrase(make_phrase(4, "A", 2, "low", riffs=22))
    tape = at_changing_speed(sound.samples, sound.rate, -12.0, 0.5)
    soundfile.write(tmp_path / "tape.wav", tape, sound.rate)
    plain = load_settings(flags={"harp.key": "A", "send.midi.bend_range": 12})
    found = find_tuning(hear_pitches(tmp_path / "tape.wav", plain), plain)
    assert found is not None
    rises = []
    for name, heard_by in (("followed", tuned_to(plain, found)), ("plain", plain)):
        report = transcribe_file(tmp_path / "tape.wav", tmp_path / name, heard_by)
        rises.append(_rise_of_roots(report.folder))
    followed, without = rises
    assert abs(followed) < 6.0
    assert without > 10.0
    kept = yaml.safe_load((tmp_path / "followed" / "tape" / "take.yaml").read_text(encoding="utf-8"))
    told = kept["settings"]["harp"]["drift"]
    assert told[0][1] == kept["harp"]["a4_hz"]
    for at_s, a4_hz in told:
        assert 1200.0 * log2(a4_hz / 440.0) == pytest.approx(0.5 * at_s - 12.0, abs=6.0)


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
