"""How a loudspeaker comes back through the microphone: a short chirp, and finding it again in what was heard.

The chirp is found by cross-correlation (matched filter; the delay is the lag of the largest envelope, as in any
textbook of signal processing). Conventions: sound has shape (n,) and full scale at +-1; what was heard begins at the
instant of what was sent, so that a lag of samples is the delay; gains are dB of the heard sound above the sent one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bridge.follow.room_noise import HARP_DB

Array = NDArray[np.float64]

#: The sweep covers what a harp plays and any small loudspeaker gives, in Hz, in so many seconds.
LOW_HZ, HIGH_HZ = 500.0, 4000.0
CHIRP_S = 0.2
#: Silence before it, from which the noise is known, and after it, in which a late return may come.
LEAD_S, TAIL_S = 0.1, 0.6
#: Levels tried one after the other until the chirp is found, RMS in dBFS: quiet first.
LEVELS_DB = (-46.0, -36.0, -26.0)
#: The envelope must stand out of its own middle value by this factor, which plain noise as good as never does.
SURE = 8.0
#: A return is the first one that is at least half (-6 dB) of the strongest: the way straight to the microphone.
_FIRST_PART = 0.5
#: So near full scale, for so many samples, is overloaded.
_CLIPPED_AT, _CLIPPED_SAMPLES = 0.985, 4

#: A loudspeaker that comes back less than this under the harp asks for headphones, dB (common practice, no source).
HEADPHONES_DB = 20.0
#: A synth as loud on its way to the loudspeaker as a harp is at the microphone, RMS in dBFS.
SYNTH_DB = -20.0


@dataclass(frozen=True, slots=True)
class LoudspeakerReturn:
    """What came back: delay in seconds, gain in dB (heard above sent), how far it stands out, and if it overloaded."""

    delay_s: float
    gain_db: float
    sureness: float
    clipped: bool


def chirp(rate: int, level_db: float) -> Array:
    """The sound to play at ``rate`` Hz: silence, a sweep of RMS ``level_db`` dBFS that fades in and out, silence."""
    time_s = np.arange(round(CHIRP_S * rate)) / rate
    high = min(HIGH_HZ, 0.4 * rate)
    sweep = np.sin(2.0 * np.pi * (LOW_HZ * time_s + (high - LOW_HZ) * time_s**2 / (2.0 * CHIRP_S)))
    fade = np.minimum(1.0, np.minimum(time_s, CHIRP_S - time_s) / 0.02)
    sweep *= np.sin(0.5 * np.pi * np.maximum(0.0, fade)) ** 2
    sweep *= 10.0 ** (level_db / 20.0) / np.sqrt(np.mean(sweep**2))
    return np.concatenate([np.zeros(round(LEAD_S * rate)), sweep, np.zeros(round(TAIL_S * rate))])


def find_return(sent: Array, heard: NDArray[np.floating[Any]], rate: int) -> LoudspeakerReturn | None:
    """The chirp of :func:`chirp` in what was heard from the same instant on; None when it is not surely there."""
    sound = np.nan_to_num(heard.astype(np.float64))
    lead = round(LEAD_S * rate)
    pulse = sent[lead : lead + round(CHIRP_S * rate)]
    envelope = _envelope(pulse, sound)[lead:]
    envelope = envelope[: max(0, len(sound) - lead - len(pulse))]
    if not len(envelope) or not float(envelope.max()) > 0.0:
        return None
    sureness = float(envelope.max() / max(float(np.median(envelope)), 1e-30))
    if sureness < SURE:
        return None
    first = int(np.argmax(envelope >= _FIRST_PART * envelope.max()))
    near = envelope[first : first + max(2, round(0.001 * rate))]
    place = first + int(near.argmax())
    matched = float(envelope[place])
    delay = place + _between(envelope, place)
    gain = max(matched, _by_power(pulse, sound, lead, place))
    clipped = int(np.count_nonzero(np.abs(sound) >= _CLIPPED_AT)) >= _CLIPPED_SAMPLES
    return LoudspeakerReturn(delay / rate, 20.0 * math.log10(gain), sureness, clipped)


def together(returns: Sequence[LoudspeakerReturn]) -> LoudspeakerReturn:
    """Several measurements as one: medians; ``clipped`` if any was. At least one is needed."""
    return LoudspeakerReturn(
        float(np.median([each.delay_s for each in returns])),
        float(np.median([each.gain_db for each in returns])),
        min(each.sureness for each in returns),
        any(each.clipped for each in returns),
    )


def under_the_harp_db(found: LoudspeakerReturn) -> float:
    """How far a synth comes back below the harp, dB; negative when it is louder than the harp."""
    return HARP_DB - (SYNTH_DB + found.gain_db)


def comes_back_above(close_db: float, found: LoudspeakerReturn) -> bool:
    """Whether a synth's sound would hold a gate open that closes at ``close_db`` dBFS, and so could hold a note."""
    return found.clipped or SYNTH_DB + found.gain_db > close_db


def headphones_needed(found: LoudspeakerReturn) -> bool:
    """Whether the loudspeaker comes back so loud that the synth would be followed instead of the harp."""
    return found.clipped or under_the_harp_db(found) < HEADPHONES_DB


def _envelope(pulse: Array, heard: Array) -> Array:
    """Envelope of the cross-correlation at the lags 0, 1, ..., where 1 is the pulse as it was sent; shape of heard.

    Negative frequencies left out, the correlation is analytic, and its magnitude does not swing with the sweep's tone.
    """
    size = 1 << (len(heard) + len(pulse) - 1).bit_length()
    product = np.fft.fft(heard, size) * np.conj(np.fft.fft(pulse, size))
    product[size // 2 :] = 0.0
    return np.asarray(np.abs(np.fft.ifft(2.0 * product))[: len(heard)] / (pulse @ pulse))


def _between(envelope: Array, place: int) -> float:
    """Where between the samples the peak lies, by a parabola through three, -0.5..0.5."""
    if not 0 < place < len(envelope) - 1:
        return 0.0
    before, top, after = envelope[place - 1 : place + 2].tolist()
    bend = before - 2.0 * top + after
    return 0.5 * (before - after) / bend if bend < 0.0 else 0.0


def _by_power(pulse: Array, heard: Array, lead: int, place: int) -> float:
    """Gain by the power that the chirp added to the noise before it: a room that smears it makes it no softer."""
    before = heard[:lead]
    during = heard[lead + place : lead + place + len(pulse)]
    added = float(np.mean(during**2) - np.mean(before**2))
    return math.sqrt(max(0.0, added) / float(np.mean(pulse**2)))
