"""What is not the player's, through the chain: howl, a model that the program sounds, the synth's echo, talk."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from numpy.typing import NDArray

from bridge.base.events import AudioBlock, Event, NoteOff, NoteOn, PitchFrame
from bridge.wiring.chain import Chain
from bridge.wiring.settings import load_settings
from follow.tones import RATE, blocks_of, harmonic_tone
from sounds.speech import speech

#: The straight third and the root of a C harp in cross position, Hz.
THIRD_HZ, ROOT_HZ = 493.88, 392.0
_HOP_S = 64 / RATE
_VOICE, _REED = 0.001, 0.995


class Played:
    """A chain and what its player heard."""

    def __init__(self, **flags: object) -> None:
        self.chain = Chain(load_settings(flags={"harp.key": "C", **flags}), RATE)
        self.heard: list[Event] = []
        self.chain.add_player(self.heard.append)

    def feed(self, samples: NDArray[np.float32]) -> None:
        """Play from where the chain is."""
        start = round(self.chain.now_s * RATE)
        for block in blocks_of(samples, 128):
            self.chain.feed(AudioBlock(start + block.start, RATE, block.samples))

    @property
    def ons(self) -> list[NoteOn]:
        """The notes that began."""
        return [event for event in self.heard if isinstance(event, NoteOn)]

    @property
    def offs(self) -> list[NoteOff]:
        """The notes that ended."""
        return [event for event in self.heard if isinstance(event, NoteOff)]


def gained(samples: NDArray[np.float32], level_db: NDArray[np.float64]) -> NDArray[np.float32]:
    """The samples at that gain."""
    return np.asarray(samples * 10.0 ** (level_db / 20.0), np.float32)


def test_a_howl_is_no_note_for_long_and_the_harp_beside_it_is_played() -> None:
    """A pure tone that grows by 20 dB a second, alone and then under a third 20 dB louder."""
    played = Played()
    howl = gained(harmonic_tone(880.0, 1.5, partials=[1.0]), np.linspace(-40.0, -10.0, round(1.5 * RATE)))
    played.feed(howl[: RATE * 3 // 4])
    assert played.chain.howling
    assert len(played.ons) == len(played.offs) <= 1
    before = len(played.ons)
    played.feed(howl[RATE * 3 // 4 :] * np.float32(0.1) + harmonic_tone(THIRD_HZ, 0.75))
    assert [on.midi_note for on in played.ons[before:]] == [71]
    played.feed(np.zeros(RATE, np.float32))
    assert not played.chain.howling


def test_nothing_is_heard_while_a_model_sounds_whatever_happens_meanwhile() -> None:
    """Another harp and a second of lost sound make the chain hear afresh, but not the model; its tail neither."""
    played = Played()
    played.feed(harmonic_tone(THIRD_HZ, 0.3))
    played.chain.pause(sounding=True)
    played.feed(harmonic_tone(THIRD_HZ, 0.2))
    assert (len(played.ons), len(played.offs)) == (1, 1)
    assert played.offs[0].ready_s == pytest.approx(0.3, abs=0.02)
    played.chain.change_harp("G")
    played.feed(harmonic_tone(THIRD_HZ, 0.2))
    for block in blocks_of(harmonic_tone(THIRD_HZ, 0.2), 128):
        played.chain.feed(AudioBlock(2 * RATE + block.start, RATE, block.samples))
    played.chain.pause(sounding=False, tail_s=0.1)
    played.feed(harmonic_tone(THIRD_HZ, 0.09))
    assert len(played.ons) == 1
    played.feed(harmonic_tone(THIRD_HZ, 0.3))
    assert len(played.ons) == 2


@pytest.mark.parametrize("guard", [True, False])
@pytest.mark.parametrize("strength", [1.0, 0.0])
def test_the_synth_does_not_hold_the_note_it_answers_to(guard: bool, strength: float) -> None:
    """A third bent by 150 cents and its answer, 12 dB softer: only without the guard it is held, or begins a note."""
    played = Played(**{"quantise.bleed.guard": guard, "send.strength": strength, "send.synth_pitch": "band"})
    bend = np.interp(np.arange(RATE // 2) / RATE, [0.25, 0.3], [0.0, -150.0])
    played.feed(harmonic_tone(THIRD_HZ * 2.0 ** (bend / 1200.0), 0.5))
    (on,) = played.ons
    sent_hz = 440.0 * 2.0 ** ((on.midi_note - 69) / 12.0 - strength * 150.0 / 1200.0)
    fading = np.interp(np.arange(RATE // 2) / RATE, [0.1, 0.5], [-12.0, -60.0])
    played.feed(gained(harmonic_tone(sent_hz, 0.5), fading))
    played.feed(np.zeros(RATE // 5, np.float32))
    lasting_s = played.offs[-1].ready_s - 0.5
    assert (len(played.ons) == 1 and lasting_s < 0.1) is guard


def test_an_hour_of_talk_is_not_remembered_live() -> None:
    """Recorded speech begins no note, and what is left out is kept of a recording only."""
    played = Played()
    samples = speech("English", 5.0).samples
    played.feed(samples)
    played.chain.finish()
    assert not played.ons
    assert played.chain.left_out == ()
    recorded = Chain(load_settings(flags={"harp.key": "C"}), RATE, look_ahead=True)
    for block in blocks_of(samples, RATE):
        recorded.feed(block)
    recorded.finish()
    assert {span.what for span in recorded.left_out} == {"voice"}


class Known:
    """A follower that gives frames that are known, as their time comes."""

    def __init__(self, frames: Sequence[PitchFrame]) -> None:
        self._frames = list(frames)

    def follow(self, block: AudioBlock) -> list[PitchFrame]:
        """The frames that are ready by the end of the block."""
        until_s = (block.start + len(block.samples)) / block.rate
        count = sum(frame.ready_s <= until_s for frame in self._frames)
        given, self._frames = self._frames[:count], self._frames[count:]
        return given


def made(*parts: tuple[float, float, float]) -> list[PitchFrame]:
    """Frames of (seconds, Hz, reed); 0 Hz is silence."""
    frames: list[PitchFrame] = []
    for seconds, hz, reed in parts:
        for index in range(round(seconds / _HOP_S)):
            at_s = len(frames) * _HOP_S
            level_db = -20.0 if hz else -120.0
            frames.append(PitchFrame(at_s, at_s + 0.006, hz, level_db, 1.0, 1.0, 0.5, bool(hz) and not index, reed))
    return frames


def test_what_is_due_does_not_wait_for_a_sound_that_has_yet_to_prove_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    """With a steady delay the end of a short note after talk goes out in time, though a doubtful sound has begun."""
    frames = made((1.0, 220.0, _VOICE), (0.1, ROOT_HZ, _REED), (0.02, 0.0, 1.0), (0.1, 440.0, 0.7), (0.1, 0.0, 1.0))
    monkeypatch.setattr("bridge.wiring.chain.make_follower", lambda *_: Known(frames))
    played = Played(**{"quantise.steady_delay": True})
    played.feed(np.zeros(round(1.5 * RATE), np.float32))
    off = played.offs[0]
    assert off.time_s + 0.03 <= off.ready_s < off.time_s + 0.03 + 2 * _HOP_S
