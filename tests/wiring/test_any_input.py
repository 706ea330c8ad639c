"""Any input at any rate, in blocks of any size, with jumps: no crash, no stuck note, nothing but numbers on the wire.

Sources: MIDI 1.0, 4.2.1 (data bytes are 7 bits, every Note On has its end), as ``send.synth`` reads it; the ranges of
values are those of the contract (``shared/messages.md``).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from bridge.base.events import AudioBlock, Event, Inflection, NoteOff, NoteOn, PitchPoint
from bridge.capture.source import Source, without_nonsense
from bridge.send.kept_port import PortNews
from bridge.send.midi_output import MidiOutput
from bridge.send.output import Outputs
from bridge.send.pitch import sent_pitch
from bridge.wiring.live import run_live
from bridge.wiring.settings import load_settings
from follow.tones import harmonic_tone
from send.synth import Synth
from wiring.stand_ins import SETTINGS, Ear

#: Sound cards and files: telephones to studios.
RATES = (8000, 11025, 16000, 22050, 44100, 48000, 96000, 192000)
_SECONDS = 0.6
SMALL = float(np.finfo(np.float32).tiny)

Samples = NDArray[np.float32]


def _silence(count: int, _rate: int, _rng: np.random.Generator) -> Samples:
    return np.zeros(count, np.float32)


def _dc(count: int, _rate: int, rng: np.random.Generator) -> Samples:
    return np.full(count, rng.choice([-1.0, -0.3, 1e-3, 1.0]), np.float32)


def _square(count: int, rate: int, rng: np.random.Generator) -> Samples:
    hz = float(rng.uniform(60.0, 0.45 * rate))
    return np.where(np.sin(2.0 * np.pi * hz * np.arange(count) / rate) >= 0.0, 1.0, -1.0).astype(np.float32)


def _noise(count: int, _rate: int, rng: np.random.Generator) -> Samples:
    return rng.uniform(-1.0, 1.0, count).astype(np.float32)


def _huge(count: int, _rate: int, rng: np.random.Generator) -> Samples:
    return (rng.standard_normal(count) * 1e30).astype(np.float32)


def _denormal(count: int, _rate: int, rng: np.random.Generator) -> Samples:
    return (rng.standard_normal(count) * SMALL).astype(np.float32)


def _clicks(count: int, _rate: int, rng: np.random.Generator) -> Samples:
    return np.where(rng.random(count) < 0.001, 1.0, 0.0).astype(np.float32)


def _no_numbers(count: int, rate: int, rng: np.random.Generator) -> Samples:
    samples = _reed(count, rate, rng)
    for value in (np.nan, np.inf, -np.inf):
        samples[rng.integers(0, count, max(1, count // 50))] = value
    return samples


def _reed(count: int, rate: int, rng: np.random.Generator) -> Samples:
    tone = harmonic_tone(float(rng.uniform(200.0, 900.0)), count / rate, rate=rate)
    return np.asarray(np.resize(tone, count), np.float32).copy()


KINDS = {
    "silence": _silence,
    "dc": _dc,
    "square": _square,
    "noise": _noise,
    "huge": _huge,
    "denormal": _denormal,
    "clicks": _clicks,
    "no numbers": _no_numbers,
    "reed": _reed,
}


class Given(Source):
    """``samples`` in blocks of ``sizes`` in turn (0: a block with nothing in it); ``start`` jumps by ``jumps`` in turn.

    As every source does, it lets nothing through that is no number.
    """

    name = "given"

    def __init__(self, samples: Samples, rate: int, sizes: list[int], jumps: list[int]) -> None:
        self.rate = rate
        self._samples, self._sizes, self._jumps = samples, sizes, jumps
        self._place = self._start = self._turn = 0

    def open(self) -> None:
        """Nothing to open."""

    def read(self, _timeout_s: float) -> AudioBlock | None:
        """The next block; None after the last."""
        if self._place >= len(self._samples):
            return None
        size, jump = (self._sizes[self._turn % len(self._sizes)], self._jumps[self._turn % len(self._jumps)])
        self._turn += 1
        self._start = max(0, self._start + jump)
        sound, _ = without_nonsense(self._samples[self._place : self._place + size])
        block = AudioBlock(self._start, self.rate, sound)
        self._place += len(sound)
        self._start += len(sound)
        return block

    def close(self) -> None:
        """Nothing to close."""


class Wire:
    """A MIDI port with a synth at its end."""

    def __init__(self) -> None:
        self.synth = Synth()

    def open(self) -> None:
        """Nothing to open."""

    def send(self, data: bytes) -> None:
        """Let the synth hear it: it refuses bytes that are none."""
        self.synth.hear(data)

    def attend(self, _now_s: float) -> PortNews:
        """It is always there."""
        return PortNews.SAME

    def close(self) -> None:
        """Nothing to close."""


def check(events: list[Event]) -> None:
    """Every value is a number and where it may be; each note begins once and ends once, in turn."""
    notes: list[int] = []
    for event in events:
        if isinstance(event, PitchPoint):
            values = (event.time_s, event.ready_s, event.hz, event.cents, event.level_db, event.clean)
            assert all(map(math.isfinite, values))
            assert event.hz >= 0.0
            assert event.level_db >= -120.0
            assert 0.0 <= event.clean <= 1.0
        elif isinstance(event, NoteOff):
            assert notes[-1:] == [event.note_id]
            notes.append(-1)
        else:
            moves = event.inflection if isinstance(event, NoteOn) else event
            _check_inflection(moves)
            if isinstance(event, NoteOn):
                assert not notes or notes[-1] == -1
                assert 0 <= event.midi_note <= 127
                assert 0.0 < event.velocity <= 1.0
                notes.append(event.note_id)
    assert not notes or notes[-1] == -1


def _check_inflection(moves: Inflection) -> None:
    assert math.isfinite(moves.bend_cents)
    for value in (moves.blueness, moves.breath, moves.bright):
        assert 0.0 <= value <= 1.0
    assert -1.0 <= moves.lean <= 1.0


def play(samples: Samples, rate: int, sizes: list[int], jumps: list[int]) -> Ear:
    """Play it live to a synth and an ear, and check both; gives back the ear."""
    ear, wire = Ear(), Wire()
    pitch = sent_pitch(SETTINGS.send, 0.0)
    failures: list[str] = []
    outputs = Outputs(
        [MidiOutput(SETTINGS.send.midi, pitch, wire), ear], lambda name, error: failures.append(f"{name} {error!r}")
    )
    at_rate = load_settings(flags={"harp.key": "C", "capture.paced": False})
    source = Given(samples, rate, sizes, jumps)
    report = run_live(at_rate, source=source, outputs=outputs, take=None)
    assert failures == []
    assert not report.failed
    check(ear.heard)
    assert wire.synth.sounding == {}
    assert len(wire.synth.begun) == report.notes
    return ear


@settings(max_examples=25)
@given(
    kinds=st.lists(st.sampled_from(sorted(KINDS)), min_size=1, max_size=4),
    rate=st.sampled_from(RATES),
    sizes=st.lists(st.one_of(st.sampled_from([0, 1, 127, 128, 1000]), st.integers(0, 5000)), min_size=1, max_size=6),
    jumps=st.lists(st.one_of(st.just(0), st.integers(-(10**6), 10**7)), min_size=1, max_size=8),
    seed=st.integers(0, 2**16),
)
def test_any_sound_at_any_rate_in_any_blocks(
    kinds: list[str], rate: int, sizes: list[int], jumps: list[int], seed: int
) -> None:
    """One kind of sound after another, in odd blocks whose place in the stream jumps: numbers, and no stuck note."""
    rng = np.random.default_rng(seed)
    count = round(_SECONDS * rate / len(kinds))
    samples = np.concatenate([KINDS[kind](count, rate, rng) for kind in kinds])
    # At least one size above 0 in each round, and no more than some thousand blocks.
    play(samples, rate, [*sizes, max(64, len(samples) // 400)], jumps)


@pytest.mark.parametrize("rate", RATES)
def test_a_reed_is_a_note_at_every_rate(rate: int) -> None:
    """At 8 to 192 kHz a steady B4 (493.88 Hz) is one note, number 71 (MIDI 1.0: 440 Hz is note 69)."""
    tone = harmonic_tone(493.88, 0.5, rate=rate)
    ear = play(np.concatenate([tone, np.zeros(rate // 4, np.float32)]), rate, [128], [0])
    assert [event.midi_note for event in ear.heard if isinstance(event, NoteOn)] == [71]
