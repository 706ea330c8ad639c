"""Conversions against tables that do not come from this project."""

from __future__ import annotations

import math

import librosa
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.units import (
    cents_between,
    clip,
    hz_above,
    hz_to_midi,
    midi_to_hz,
    power_to_db,
    powers_to_db,
)


@pytest.mark.parametrize(
    ("ratio", "cents"),
    # Sizes of just intervals in cents, 1200*log2(ratio): e.g. A. J. Ellis's appendix to Helmholtz, On the Sensations
    # of Tone, table of intervals (values from memory, computable by hand).
    [(2 / 1, 1200.0), (3 / 2, 701.96), (5 / 4, 386.31), (6 / 5, 315.64), (7 / 4, 968.83), (11 / 9, 347.41)],
)
def test_cents_of_just_intervals(ratio: float, cents: float) -> None:
    """Just intervals have the sizes of the handbooks, to a hundredth of a cent."""
    assert cents_between(440.0 * ratio, 440.0) == pytest.approx(cents, abs=0.005)


@pytest.mark.parametrize(
    # MIDI Tuning Standard (MIDI 1.0 Detailed Specification 4.2.1): note 69 is 440 Hz, note 60 is 261.6256 Hz.
    ("note", "hz"),
    [(69, 440.0), (60, 261.6256), (0, 8.1758)],
)
def test_midi_notes_have_the_frequencies_of_the_standard(note: int, hz: float) -> None:
    """MIDI notes sound at the frequencies that the standard lists."""
    assert midi_to_hz(note) == pytest.approx(hz, abs=5e-5)


@given(st.floats(0.0, 127.0), st.floats(400.0, 480.0))
def test_midi_and_hz_agree_with_librosa_and_with_each_other(note: float, a4: float) -> None:
    """Note numbers and Hz go back and forth, and at A4 = 440 give what librosa gives."""
    assert hz_to_midi(midi_to_hz(note, a4), a4) == pytest.approx(note, abs=1e-9)
    assert midi_to_hz(note) == pytest.approx(float(librosa.midi_to_hz(note)), rel=1e-12)


@given(st.floats(20.0, 5000.0), st.floats(-3600.0, 3600.0))
def test_cents_and_hz_undo_each_other(hz: float, cents: float) -> None:
    """An interval added and measured is the same interval."""
    assert cents_between(hz_above(hz, cents), hz) == pytest.approx(cents, abs=1e-6)


def test_power_in_decibels() -> None:
    """Full scale is 0 dBFS, half the amplitude -6.02, nothing at all -120, one by one and as an array."""
    powers = np.array([1.0, 0.25, 0.0, 1e-30])
    expected = [0.0, -6.0206, -120.0, -120.0]
    np.testing.assert_allclose(powers_to_db(powers), expected, atol=1e-4)
    np.testing.assert_allclose([power_to_db(float(power)) for power in powers], expected, atol=1e-4)


@given(st.floats())
def test_a_clipped_value_is_always_in_range(value: float) -> None:
    """Whatever comes in, infinite or no number, what goes on lies in the range."""
    assert -1.0 <= clip(value, -1.0, 1.0) <= 1.0
    assert clip(math.nan, -1.0, 1.0) == -1.0
