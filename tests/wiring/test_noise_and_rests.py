"""A softer note after a rest is a note, however loud the room is, and a tail is none."""

from __future__ import annotations

import numpy as np
import pytest

from bridge.base.events import AudioBlock, Event, NoteOn
from bridge.wiring.chain import Chain
from bridge.wiring.settings import load_settings
from follow.tones import RATE, harmonic_tone


def _notes(samples: np.ndarray[tuple[int], np.dtype[np.float32]]) -> list[NoteOn]:
    chain = Chain(load_settings(flags={"harp.key": "C"}), RATE)
    heard: list[Event] = []
    chain.add_watcher(heard.append)
    for start in range(0, len(samples), 4800):
        chain.feed(AudioBlock(start, RATE, samples[start : start + 4800]))
    chain.finish()
    return [event for event in heard if isinstance(event, NoteOn)]


@pytest.mark.parametrize("noise_db", [-70.0, -53.0, -51.0, -50.0, -48.0])
@pytest.mark.parametrize("rest_s", [0.2, 0.5, 1.0, 2.0])
@pytest.mark.parametrize("softer_db", [0.0, 8.0, 12.0])
def test_a_softer_note_after_a_rest_is_a_note(noise_db: float, rest_s: float, softer_db: float) -> None:
    """The same third twice, the second softer, in room noise that may hold the gate open: two notes."""
    rng = np.random.default_rng(7)
    edge = np.minimum(1.0, np.arange(RATE // 2) / (0.02 * RATE))
    note = harmonic_tone(493.88, 0.5) * np.minimum(edge, edge[::-1])
    rest = np.zeros(round(rest_s * RATE))
    clean = np.concatenate([rest, note, rest, note * 10.0 ** (-softer_db / 20.0), rest])
    noisy = clean + 10.0 ** (noise_db / 20.0) * rng.standard_normal(len(clean))
    heard = _notes(noisy.astype(np.float32))
    assert [on.midi_note for on in heard] == [71, 71]


def test_a_tail_in_a_room_is_no_note() -> None:
    """What is left of a note 15 dB down, uneven and without an attack, begins nothing."""
    time = np.arange(RATE) / RATE
    tail = 10.0 ** (-15.0 / 20.0) * np.exp(-time / 0.06) * (1.0 + 0.3 * np.sin(2.0 * np.pi * 17.0 * time))
    level = np.concatenate([np.ones(RATE // 2), tail])
    assert len(_notes((harmonic_tone(493.88, 1.5) * level).astype(np.float32))) == 1
