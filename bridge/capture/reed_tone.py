"""The tone of one free reed whose fundamental frequency is known exactly at every sample.

The tone is a sum of harmonics of one phase, so its fundamental is the derivative of that phase, whatever the spectrum
and the amplitudes do. Nothing sounds above 0.45 of the sample rate, because aliased partials would bias every pitch
estimate made from the tone. Breath noise is the exception: it is noise in any case, and band-limited by its own shape.

Sources: a second harmonic stronger than the fundamental and attacks of irregular first cycles in which higher modes of
the reed take part: Cottingham & Wolff 2015 (free-reed attack transients); 6.27 is the ratio of the second to the first
transverse mode of a clamped-free bar (Fletcher & Rossing, The Physics of Musical Instruments). The amounts are from
memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

#: Share of the sample rate at which a partial begins to fade, and above which none sounds.
FADE_FROM = 0.38
FADE_TO = 0.45
#: Second transverse mode of a clamped-free bar over its first.
SECOND_MODE = 6.27

_RIPPLE_DB = 2.0
_IRREGULAR_BELOW = 0.2
_BREATH_LOW_HZ = 300.0
_BREATH_HIGH_HZ = 6000.0


@dataclass(frozen=True, slots=True)
class ReedVoice:
    """How a reed sounds.

    ``fundamental`` and ``second`` are the relative amplitudes of the first two harmonics (fundamental 0.1 beside
    second 1 is a weak fundamental); the rest falls from the second by 14 dB an octave at ``brightness`` 0, by 4
    at 1. ``breath_db`` is the breath noise against the tone, ``irregularity`` (0..1) how uneven the first cycles are.
    """

    fundamental: float = 0.7
    second: float = 1.0
    brightness: float = 0.5
    breath_db: float = -42.0
    irregularity: float = 0.4


def integrate_phase(f0_hz: NDArray[np.float64], rate: int) -> NDArray[np.float64]:
    """Phase in radians, 0 at the first sample, whose derivative at sample i is ``2 pi f0_hz[i]``.

    The frequency is taken as linear between samples, for which the trapezoid rule is exact.
    """
    phase = np.zeros(len(f0_hz))
    np.cumsum((f0_hz[1:] + f0_hz[:-1]) * (np.pi / rate), out=phase[1:])
    return phase


def reed_tone(
    f0_hz: NDArray[np.float64], rate: int, voice: ReedVoice, attack_s: float, rng: np.random.Generator
) -> NDArray[np.float64]:
    """Samples of the reed, float64 of the shape (n,) of ``f0_hz`` (all above 0), RMS 1 once settled.

    The envelope is left to the player; only the unevenness of the first cycles, over by twice ``attack_s``, is here.
    """
    phase = integrate_phase(f0_hz, rate)
    harmonics, power = _harmonics(phase, f0_hz, rate, voice, attack_s, rng)
    tone = harmonics / math.sqrt(power)
    tone += _second_mode(f0_hz, rate, voice, attack_s)
    tone += _breath(phase, rate, rng) * 10.0 ** (voice.breath_db / 20.0)
    return tone


def _harmonics(
    phase: NDArray[np.float64],
    f0_hz: NDArray[np.float64],
    rate: int,
    voice: ReedVoice,
    attack_s: float,
    rng: np.random.Generator,
) -> tuple[NDArray[np.float64], float]:
    """Sum of the harmonics and its mean square once the first cycles are over."""
    lowest, highest, usual = float(f0_hz.min()), float(f0_hz.max()), float(np.median(f0_hz))
    turn = np.exp(1j * phase)
    partial = np.ones(len(phase), dtype=np.complex128)
    total = np.zeros(len(phase))
    power = 0.0
    count = int(FADE_TO * rate / lowest)
    angles = np.exp(1j * rng.uniform(0.0, 2.0 * np.pi, count))
    ripple_db = rng.uniform(-_RIPPLE_DB, _RIPPLE_DB, count)
    for number in range(1, count + 1):
        partial *= turn
        amplitude = _amplitude(number, voice, float(ripple_db[number - 1]))
        wave = amplitude * (partial * angles[number - 1]).imag
        if number * highest > FADE_FROM * rate:
            wave *= _fade(number * f0_hz / rate)
        if number * highest < _IRREGULAR_BELOW * rate:
            wave *= _unevenness(phase, rate, voice, attack_s, rng)
        total += wave
        power += 0.5 * (amplitude * float(_fade(np.array([number * usual / rate]))[0])) ** 2
    return total, power


def _amplitude(number: int, voice: ReedVoice, ripple_db: float) -> float:
    """Relative amplitude of harmonic ``number``; the first two are as the voice says, without ripple."""
    if number == 1:
        return voice.fundamental
    if number == 2:
        return voice.second
    fall_db = 14.0 - 10.0 * voice.brightness
    return float(voice.second * 10.0 ** ((ripple_db - fall_db * np.log2(number / 2.0)) / 20.0))


def _fade(share: NDArray[np.float64]) -> NDArray[np.float64]:
    """Raised-cosine gain 1..0 of a partial at that share of the sample rate."""
    position = np.clip((share - FADE_FROM) / (FADE_TO - FADE_FROM), 0.0, 1.0)
    return 0.5 + 0.5 * np.cos(np.pi * position)


def _unevenness(
    phase: NDArray[np.float64], rate: int, voice: ReedVoice, attack_s: float, rng: np.random.Generator
) -> NDArray[np.float64]:
    """Gain around 1, new for every cycle and dying away with the attack."""
    cycles = phase / (2.0 * np.pi)
    of_cycle = rng.uniform(-1.0, 1.0, int(cycles[-1]) + 2)
    gain: NDArray[np.float64] = 1.0 + voice.irregularity * _dying(len(phase), rate, attack_s) * np.interp(
        cycles, np.arange(len(of_cycle)), of_cycle
    )
    return gain


def _second_mode(f0_hz: NDArray[np.float64], rate: int, voice: ReedVoice, attack_s: float) -> NDArray[np.float64]:
    """The inharmonic mode of the reed that rings in its attack, 20 dB under the tone at full irregularity."""
    mode_hz = SECOND_MODE * f0_hz
    ring: NDArray[np.float64] = np.sin(integrate_phase(mode_hz, rate)) * _fade(mode_hz / rate)
    return 0.1 * math.sqrt(2.0) * voice.irregularity * _dying(len(f0_hz), rate, attack_s) * ring


def _dying(count: int, rate: int, attack_s: float) -> NDArray[np.float64]:
    """1 at the first sample, smoothly 0 from twice the attack on."""
    position = np.clip(np.arange(count) / max(1.0, 2.0 * attack_s * rate), 0.0, 1.0)
    return 0.5 + 0.5 * np.cos(np.pi * position)


def _breath(phase: NDArray[np.float64], rate: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """Breath noise of RMS about 1, stronger while the reed's slot is open, once a cycle."""
    return breath_noise(len(phase), rate, rng) * (1.0 + 0.5 * np.cos(phase))


def breath_noise(count: int, rate: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """Noise of a mouth's breath, float64 of shape (count,), RMS 1: band-limited, nothing above 0.45 of the rate."""
    padded = max(16, 1 << (count - 1).bit_length())
    frequency = np.fft.rfftfreq(padded, 1.0 / rate)
    shape = (frequency / (frequency + _BREATH_LOW_HZ)) / np.sqrt(1.0 + (frequency / _BREATH_HIGH_HZ) ** 2)
    shape *= _fade(frequency / rate)
    spectrum = np.fft.rfft(rng.standard_normal(padded)) * shape
    noise = np.fft.irfft(spectrum, padded)
    return np.asarray(noise[:count] / np.sqrt(np.mean(noise**2)))
