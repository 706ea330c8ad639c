"""What amplifiers, noise, mains and rooms do to a sound; the same input always gives the same samples.

Levels are relative to the RMS of the parts that sound, so that loud and quiet sounds are dirtied alike. None of these
moves the sound in time: the truth stays where it was.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
import soxr
from numpy.typing import NDArray

from sounds.known import Floats, KnownSound

ROOM_RT60_S = 0.4
_SEED = 20111
_SPEED_OF_SOUND = 343.0
_ROOM_M = (5.2, 4.1, 2.8)
_PLAYER_M = (2.03, 1.47, 1.38)
_MICROPHONE_M = (2.41, 1.83, 1.31)
#: Mains hum: the fundamental and its first overtones, amplitudes from memory.
_HUM = ((50.0, 1.0), (100.0, 0.5), (150.0, 0.35), (250.0, 0.15))
_PEAK = 0.5
_OVERSAMPLED = 8
_SOUNDING_BELOW_PEAK_DB = -40.0


def driven(sound: KnownSound, gain_db: float = 18.0) -> KnownSound:
    """Through an overdriven amplifier: tanh of the sound, its peak raised ``gain_db`` above full scale.

    Done at eight times the rate: an amplifier has no aliases, and those of a high reed are as strong as its partials.
    """
    peak = float(np.max(np.abs(sound.samples)))
    fast = soxr.resample(sound.samples.astype(np.float64) / peak, sound.rate, _OVERSAMPLED * sound.rate)
    pushed = soxr.resample(np.tanh(fast * 10.0 ** (gain_db / 20.0)), _OVERSAMPLED * sound.rate, sound.rate)
    return sound.altered("driven", (_PEAK * pushed[: len(sound.samples)]).astype(np.float32))


def noisy(sound: KnownSound, snr_db: float = 20.0) -> KnownSound:
    """In pink noise (power falling 3 dB an octave above 20 Hz) ``snr_db`` below the sound."""
    noise = pink_noise(len(sound.samples), sound.rate)
    return sound.altered("noise", _mixed(sound, noise, -snr_db))


def humming(sound: KnownSound, level_db: float = -30.0) -> KnownSound:
    """With 50 Hz mains hum and its overtones, all together ``level_db`` below the sound."""
    seconds = np.arange(len(sound.samples)) / sound.rate
    hum = np.sum([share * np.sin(2.0 * np.pi * hz * seconds + hz) for hz, share in _HUM], axis=0)
    return sound.altered("hum", _mixed(sound, hum, level_db))


def in_room(sound: KnownSound) -> KnownSound:
    """In a small room, half a metre from the microphone; the direct sound keeps its time and level.

    Silence is not scored until the reverberation of the last note has had its 60 dB decay.
    """
    response = room_response(sound.rate)
    size = 1 << (len(sound.samples) + len(response) - 1).bit_length()
    wet = np.fft.irfft(np.fft.rfft(sound.samples, size) * np.fft.rfft(response, size), size)[: len(sound.samples)]
    scored = sound.scored.copy()
    for note in sound.notes:
        ringing = (sound.times_s >= note.end_s) & (sound.times_s < note.silent_s + ROOM_RT60_S)
        scored &= ~(ringing & (sound.hz == 0.0))
    # Only when a room makes it louder than full scale is the whole turned down.
    return sound.altered("room", (wet / max(1.0, float(np.max(np.abs(wet))))).astype(np.float32), scored)


DIRT: dict[str, Callable[[KnownSound], KnownSound]] = {
    "driven": driven,
    "noise": noisy,
    "hum": humming,
    "room": in_room,
}


def pink_noise(count: int, rate: int) -> Floats:
    """Pink noise of RMS 1, shape (count,)."""
    spectrum = np.fft.rfft(np.random.default_rng(_SEED).standard_normal(count))
    frequency = np.fft.rfftfreq(count, 1.0 / rate)
    spectrum *= np.where(frequency < 20.0, 0.0, 1.0 / np.sqrt(np.maximum(frequency, 20.0)))
    noise = np.fft.irfft(spectrum, count)
    return np.asarray(noise / np.sqrt(np.mean(noise**2)))


@lru_cache(maxsize=2)
def room_response(rate: int) -> Floats:
    """Impulse response of a rectangular room with RT60 0.4 s, direct sound of 1 at sample 0.

    Image method: J. B. Allen and D. A. Berkley, JASA 65 (1979) 943. All walls reflect alike, as much as gives the
    reverberation time (:func:`decay_s`); images are jittered by up to 4 cm, which breaks up the sweeping echoes of an
    exact box.
    """
    room, player, microphone = np.array(_ROOM_M), np.array(_PLAYER_M), np.array(_MICROPHONE_M)
    reach = ROOM_RT60_S * _SPEED_OF_SOUND
    axes = [_images(*axis, reach) for axis in zip(room, player, microphone, strict=True)]
    squares = [offset**2 for offset, _ in axes]
    distance = np.sqrt(squares[0][:, None, None] + squares[1][None, :, None] + squares[2][None, None, :])
    bounces = axes[0][1][:, None, None] + axes[1][1][None, :, None] + axes[2][1][None, None, :]
    near = distance < reach
    distance, bounces = distance[near], bounces[near]
    direct = float(np.linalg.norm(player - microphone))
    rng = np.random.default_rng(_SEED)
    jittered = np.where(bounces > 0, distance + rng.uniform(-0.04, 0.04, distance.shape), distance)
    at = np.round((np.maximum(jittered, direct) - direct) / _SPEED_OF_SOUND * rate).astype(int)
    dull, live = 0.1, 1.0
    for _ in range(12):
        reflection = 0.5 * (dull + live)
        response = np.asarray(np.bincount(at, weights=direct / distance * reflection**bounces), dtype=np.float64)
        dull, live = (reflection, live) if decay_s(response, rate) < ROOM_RT60_S else (dull, reflection)
    return response


def decay_s(response: Floats, rate: int) -> float:
    """Reverberation time T20 of an impulse response: from -5 to -25 dB of its decay, extended to 60 dB (ISO 3382-2)."""
    energy = np.cumsum(response[::-1] ** 2)[::-1]
    decay_db = 10.0 * np.log10(np.maximum(energy / energy[0], 1e-12))
    return 3.0 * float(np.argmax(decay_db < -25.0) - np.argmax(decay_db < -5.0)) / rate


def _images(length: float, source: float, receiver: float, reach: float) -> tuple[Floats, NDArray[np.int_]]:
    """Along one axis: offset in metres of every image from the receiver, and how often it was reflected."""
    order = np.arange(-int(reach / (2 * length)) - 1, int(reach / (2 * length)) + 2)
    even, odd = 2 * order * length + source - receiver, 2 * order * length - source - receiver
    return np.concatenate([even, odd]), np.concatenate([np.abs(2 * order), np.abs(2 * order - 1)])


def _mixed(sound: KnownSound, added: Floats, level_db: float) -> NDArray[np.float32]:
    """The sound plus ``added`` scaled to ``level_db`` relative to the RMS of what sounds in it."""
    samples = sound.samples.astype(np.float64)
    size = np.abs(samples)
    sounding = samples[size > np.max(size) * 10.0 ** (_SOUNDING_BELOW_PEAK_DB / 20.0)]
    scale = np.sqrt(np.mean(sounding**2) / np.mean(added**2)) * 10.0 ** (level_db / 20.0)
    return np.asarray(samples + scale * added, dtype=np.float32)
