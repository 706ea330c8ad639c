"""Which harp a recording was played on, found through the whole chain and without a word from the player."""

from __future__ import annotations

import gc
from pathlib import Path

import numpy as np
import pytest
import soundfile

from bridge.base.errors import SoundError, UserError
from bridge.base.events import PitchPoint
from bridge.wiring.finding import find_harp, hear_pitches
from bridge.wiring.settings import load_settings
from follow.tones import harmonic_tone
from sounds.sampled import RATE, sampled


@pytest.mark.parametrize("key", ["C", "low-F"])
def test_the_harp_of_a_sampled_phrase_is_found(key: str, tmp_path: Path) -> None:
    """Key and cross position come out right, four to one; A4 within five cents."""
    sound = sampled("phrase", key)
    soundfile.write(tmp_path / "phrase.wav", sound.samples, sound.rate)
    told: list[float] = []
    settings = load_settings(flags={"harp.key": "auto"})
    found = find_harp(hear_pitches(tmp_path / "phrase.wav", settings, told.append), settings)
    assert (found.key, found.position) == (key, 2)
    assert found.certainty > 0.8
    assert found.certainty > found.runner_up.certainty
    assert abs(1200.0 * np.log2(found.a4_hz / 440.0)) < 5.0
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_only_the_note_that_sounds_is_kept(tmp_path: Path) -> None:
    """However long a recording, its points do not pile up: of forty notes of 0.2 s those of one or two are alive."""
    tones = np.concatenate([np.append(harmonic_tone(440.0, 0.2), np.zeros(RATE // 20, np.float32))] * 40)
    soundfile.write(tmp_path / "tones.wav", tones, RATE)
    alive: list[int] = []
    # Not looked through again and again: all that other tests have left in this process.
    gc.freeze()
    try:
        held = hear_pitches(tmp_path / "tones.wav", load_settings(), lambda _: alive.append(_points()))
    finally:
        gc.unfreeze()
    assert len(held) == 40
    assert 0 < max(alive) < 300


def _points() -> int:
    """How many points are alive that were not set aside."""
    gc.collect()
    return sum(isinstance(thing, PitchPoint) for thing in gc.get_objects())


def test_what_holds_too_few_notes_says_so(tmp_path: Path) -> None:
    """One long note tells no harp, and a silent file is no recording."""
    soundfile.write(tmp_path / "one.wav", sampled("every hole").samples[: RATE // 2], RATE)
    settings = load_settings(flags={"harp.key": "auto"})
    with pytest.raises(UserError, match="Too few notes"):
        find_harp(hear_pitches(tmp_path / "one.wav", settings), settings)
    soundfile.write(tmp_path / "none.wav", np.zeros(RATE), RATE)
    with pytest.raises(SoundError):
        hear_pitches(tmp_path / "none.wav", settings)
