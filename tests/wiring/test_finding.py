"""Which harp a recording was played on, found through the whole chain and without a word from the player."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from bridge.base.errors import SoundError, UserError
from bridge.wiring.finding import find_harp
from bridge.wiring.settings import load_settings
from sounds.sampled import RATE, sampled


@pytest.mark.parametrize("key", ["C", "low-F"])
def test_the_harp_of_a_sampled_phrase_is_found(key: str, tmp_path: Path) -> None:
    """Key and cross position come out right, four to one, whatever harp the settings name; A4 within five cents."""
    sound = sampled("phrase", key)
    soundfile.write(tmp_path / "phrase.wav", sound.samples, sound.rate)
    told: list[float] = []
    found = find_harp(tmp_path / "phrase.wav", load_settings(flags={"harp.key": "Bb"}), told.append)
    assert (found.key, found.position) == (key, 2)
    assert found.certainty > 0.8
    assert found.certainty > found.runner_up.certainty
    assert abs(1200.0 * np.log2(found.a4_hz / 440.0)) < 5.0
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_what_holds_too_few_notes_says_so(tmp_path: Path) -> None:
    """One long note tells no harp, and a silent file is no recording."""
    soundfile.write(tmp_path / "one.wav", sampled("every hole").samples[: RATE // 2], RATE)
    with pytest.raises(UserError, match="Too few notes"):
        find_harp(tmp_path / "one.wav", load_settings())
    soundfile.write(tmp_path / "none.wav", np.zeros(RATE), RATE)
    with pytest.raises(SoundError):
        find_harp(tmp_path / "none.wav", load_settings())
