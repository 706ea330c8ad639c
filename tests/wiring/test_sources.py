"""Which source the settings mean."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import numpy as np
import parselmouth
import pytest
import soundfile

from bridge.base.clock import ManualClock
from bridge.base.errors import SoundError
from bridge.base.events import Event, Inflection
from bridge.capture.paced import Paced
from bridge.capture.source import Source
from bridge.wiring.card import Card
from bridge.wiring.chain import Chain
from bridge.wiring.settings import load_settings
from bridge.wiring.sources import input_source, rehearsal_source


def _of(sound: str, *, paced: bool = True) -> Source:
    settings = load_settings(flags={"capture.input": sound, "capture.paced": paced})
    return input_source(settings, ManualClock())


@pytest.mark.parametrize("device", ["default", "3", "USB microphone"])
def test_anything_that_is_no_file_is_a_sound_device(device: str) -> None:
    """A name, a number and the default mean the microphone."""
    assert isinstance(_of(device), Card)


def test_a_file_is_read_at_the_speed_it_sounds_or_at_once(tmp_path: Path) -> None:
    """A sound file is paced by the clock unless the setting says otherwise; both give the same sound."""
    file = tmp_path / "tone"
    wave = np.sin(np.arange(4800) * 0.05).astype(np.float32) * 0.5
    soundfile.write(file, wave, 48000, format="WAV", subtype="FLOAT")
    for paced in (True, False):
        with _of(str(file), paced=paced) as source:
            assert isinstance(source, Paced) is paced
            parts = []
            while (block := source.read(1.0)) is not None:
                parts.append(block.samples)
        np.testing.assert_allclose(np.concatenate(parts), wave, atol=1e-6)


def test_a_misspelt_sound_file_is_not_looked_for_among_the_devices() -> None:
    """A name that ends like a sound file is a file, and a missing one is told as such."""
    with pytest.raises(SoundError, match=r"nothere\.ogg"), _of("nothere.ogg"):
        pass


def test_the_rehearsal_plays_the_harp_of_the_settings() -> None:
    """On an A harp the tune sounds a minor third, 300 cents, below that on a C harp, as Praat measures it."""
    tracks = []
    for key in ("C", "A"):
        settings = load_settings(flags={"harp.key": key, "capture.paced": False, "capture.rate_hz": 16000})
        with rehearsal_source(settings, ManualClock()) as source:
            parts = []
            while (block := source.read(0.0)) is not None:
                parts.append(block.samples)
        sound = parselmouth.Sound(np.concatenate(parts).astype(np.float64), 16000)
        tracks.append(sound.to_pitch_ac(0.01, 80.0, pitch_ceiling=2500.0).selected_array["frequency"])
    low, high = (np.log2(np.where(track > 0, track, np.nan)) for track in reversed(tracks))
    assert np.nanmedian(1200 * (high - low)) == pytest.approx(300.0, abs=5.0)


@pytest.mark.parametrize(("temperament", "cents"), [("equal", 400), ("just-7-limit", 386)])
def test_the_rehearsal_plays_the_straight_third_of_the_harp(temperament: str, cents: int) -> None:
    """The pitch at which the third dwells most, to the nearest cent, is 400, or 1200 * log2(5 / 4) on a just harp."""
    settings = load_settings(flags={"harp.temperament": temperament, "capture.paced": False})
    chain, dwelt = Chain(settings, settings.capture.rate_hz), Counter[int]()

    def hear(event: Event) -> None:
        if isinstance(event, Inflection) and event.degree == "3" and event.blueness < 0.05:
            dwelt[round(400.0 + event.bend_cents)] += 1

    chain.add_player(hear)
    with rehearsal_source(settings, ManualClock()) as source:
        while (block := source.read(0.0)) is not None:
            chain.feed(block)
    assert dwelt.most_common(1)[0][0] == cents
    assert chain.straight_cents == pytest.approx(cents, abs=0.5)
