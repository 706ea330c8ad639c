"""Sound sung at another pitch: tones of known pitch, measured by the zero crossings of their fundamental."""

from __future__ import annotations

import sys

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, sosfiltfilt

from bridge.base.errors import UserError
from bridge.takes.psola import Longer, Singer
from follow.tones import RATE, harmonic_tone

Floats = NDArray[np.float64]


def tone(hz: float, seconds: float = 1.0) -> Floats:
    """A tone with twenty harmonics, float64."""
    return harmonic_tone(hz, seconds).astype(np.float64)


def heard_hz(samples: Floats, about_hz: float, from_s: float, to_s: float) -> float:
    """Pitch by counting the periods of the fundamental, which scipy's filter leaves alone of all partials."""
    sections = butter(4, [0.7 * about_hz, 1.4 * about_hz], "bandpass", fs=RATE, output="sos")
    part = sosfiltfilt(sections, samples)[round(from_s * RATE) : round(to_s * RATE)]
    before = np.flatnonzero((part[:-1] < 0.0) & (part[1:] >= 0.0))
    crossings = before - part[before] / (part[before + 1] - part[before])
    return float((len(crossings) - 1) * RATE / (crossings[-1] - crossings[0]))


def singer(samples: Floats, hz: float) -> Singer:
    """What sings a tone of about that pitch."""
    return Singer(samples, RATE, hz / 1.35, hz * 1.35)


@pytest.mark.parametrize("hz", [110.0, 196.0, 493.9, 987.8, 2093.0])
@pytest.mark.parametrize("cents", [-200.0, -40.0, 200.0])
def test_a_tone_is_sung_at_the_pitch_asked_for(hz: float, cents: float) -> None:
    """Within a cent on average, from a low harp's lowest notes to the highest octave; the length stays."""
    voice = singer(tone(hz), hz)
    assert np.abs(1200.0 * np.log2(voice.hz / hz)).max() < 1.0
    aimed = hz * 2.0 ** (cents / 1200.0)
    sung = voice.sing(np.full(len(voice.hz), aimed))
    assert abs(len(sung) - RATE) <= 2
    assert abs(1200.0 * np.log2(heard_hz(sung, aimed, 0.2, 0.8) / aimed)) < 1.0


def test_a_moving_pitch_comes_when_it_should() -> None:
    """A glide of 400 cents in 0.4 s passes its middle where it is written, within 2 cents: that is 2 ms."""
    voice = singer(tone(196.0), 196.0)
    cents = np.interp(voice.times_s, [0.3, 0.7], [-200.0, 200.0])
    sung = voice.sing(196.0 * 2.0 ** (cents / 1200.0))
    for at_s in (0.4, 0.5, 0.6):
        aimed = 196.0 * 2.0 ** (np.interp(at_s, [0.3, 0.7], [-200.0, 200.0]) / 1200.0)
        assert abs(1200.0 * np.log2(heard_hz(sung, aimed, at_s - 0.05, at_s + 0.05) / aimed)) < 2.0


def test_a_part_is_drawn_out_at_the_same_pitch() -> None:
    """Half a second from 0.3 s on lasts twice as long; what is before stays where it is."""
    samples = tone(440.0)
    samples[:4800] = 0.0
    voice = singer(samples, 440.0)
    longer = Longer(0.3, 0.8, 2.0)
    sung = voice.sing(voice.hz, longer)
    assert len(sung) / RATE == pytest.approx(1.5, abs=0.002)
    assert np.flatnonzero(np.abs(sung) > 0.01)[0] / RATE == pytest.approx(0.1, abs=0.005)
    assert heard_hz(sung, 440.0, 0.5, 1.2) == pytest.approx(440.0, rel=5e-4)
    assert longer.after(np.array([0.2, 0.3, 0.55, 0.8, 1.0])) == pytest.approx([0.2, 0.3, 0.8, 1.3, 1.5])


@pytest.mark.parametrize("kind", ["silence", "noise", "too short"])
def test_what_has_no_pitch_is_left_as_it_is(kind: str) -> None:
    """Digital silence, noise that has no pitch in the range, and a sound shorter than a few periods."""
    rng = np.random.default_rng(5)
    samples = {"silence": np.zeros(RATE), "noise": 0.1 * rng.standard_normal(RATE), "too short": tone(440.0, 0.01)}[
        kind
    ]
    voice = singer(samples, 440.0)
    sung = voice.sing(voice.hz)
    assert len(voice.times_s) < 0.2 * len(samples) / RATE / 0.0025
    assert abs(len(sung) - len(samples)) <= 2
    assert np.mean(sung**2) == pytest.approx(np.mean(samples**2), rel=0.2)


def test_without_the_library_the_line_to_type_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who installed the program without the extra is told how to get it."""
    monkeypatch.setitem(sys.modules, "parselmouth", None)
    with pytest.raises(UserError, match=r"pip install 'reedwire\[resing\]'"):
        singer(tone(440.0), 440.0)
