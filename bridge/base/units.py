"""Conversions between Hz, cents, MIDI note numbers and decibels.

Conventions: 0 Hz means silent; levels are dBFS, where -120 means nothing at all; cents are 1/1200 of an octave.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

CENTS_PER_OCTAVE = 1200.0
SILENCE_DB = -120.0
#: MIDI 1.0 tuning reference: note 69 is A4, 440 Hz (MIDI 1.0 Detailed Specification 4.2.1).
MIDI_A4_NOTE = 69
MIDI_A4_HZ = 440.0


def cents_between(hz: float, reference_hz: float) -> float:
    """Interval from ``reference_hz`` up to ``hz`` in cents; both must be above 0."""
    return CENTS_PER_OCTAVE * math.log2(hz / reference_hz)


def hz_above(reference_hz: float, cents: float) -> float:
    """Frequency in Hz that lies ``cents`` above ``reference_hz``."""
    return float(reference_hz * 2.0 ** (cents / CENTS_PER_OCTAVE))


def midi_to_hz(note: float, a4_hz: float = MIDI_A4_HZ) -> float:
    """Frequency in Hz of a (fractional) MIDI note number: ``a4 * 2**((n - 69) / 12)`` (MIDI 1.0, 4.2.1)."""
    return float(a4_hz * 2.0 ** ((note - MIDI_A4_NOTE) / 12.0))


def hz_to_midi(hz: float, a4_hz: float = MIDI_A4_HZ) -> float:
    """Fractional MIDI note number of a frequency above 0 Hz; the inverse of :func:`midi_to_hz`."""
    return MIDI_A4_NOTE + 12.0 * math.log2(hz / a4_hz)


def power_to_db(power: float) -> float:
    """Mean square of samples (full scale = 1) to dBFS, never below -120."""
    return max(SILENCE_DB, 10.0 * math.log10(power)) if power > 0.0 else SILENCE_DB


def powers_to_db(power: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean squares, any shape, to dBFS of the same shape, never below -120."""
    return np.maximum(SILENCE_DB, 10.0 * np.log10(np.maximum(power, 1e-12)))


def clip(value: float, low: float, high: float) -> float:
    """``value`` limited to ``low..high``; NaN becomes ``low``, so that nothing undefined goes on."""
    return min(value, high) if value >= low else low
