"""The rows of the benchmark: our follower, and the libraries it is measured against.

Every row may look from the harp's lowest reed less a semitone up to 3300 Hz; a pitch outside counts as none.

aubio is driven hop by hop, with its own silence threshold at the -50 dBFS of our gate. Of its three methods only
``yinfast`` has a confidence that tells sound from noise (``yinfft`` reports negative ones for clear notes, ``fcomb``
always 0): it is cut at 0.4, where a sweep over clean and noisy rehearsals loses under 1 % of the recall and nearly all
of the false voicing. The quantiser needs a level and fresh attacks, which aubio has not: it gets those of our gate,
from the newest 256 samples, so that rows differ in nothing but pitch.

Offline: Praat's autocorrelation (``To Pitch (ac)`` with its default costs, every 4 ms), librosa's ``yin`` (no voicing
of its own: none below -50 dBFS) and ``pyin``, both 2048/256 and otherwise at their defaults.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass

import aubio
import librosa
import numpy as np
import parselmouth

from bench.cases import Case
from bridge.base.events import AudioBlock, PitchFrame
from bridge.base.units import SILENCE_DB, power_to_db
from bridge.follow.articulation import Articulation
from bridge.follow.making import make_follower
from bridge.follow.settings import FollowSettings
from sounds.known import Floats

CEILING_HZ = 3300.0
SILENT_BELOW_DB = -50.0
_LEAST_CONFIDENCE = {"yinfft": None, "yinfast": 0.4, "fcomb": None}
_BLOCK = 4096
_LEVEL_SAMPLES = 256
_OFFLINE_STEP_S = 0.004
_WINDOW, _HOP = 2048, 256


@dataclass(frozen=True)
class Row:
    """An estimator: its name, how it hears a case, whether it could play live, whether it is slow to run."""

    name: str
    hear: Callable[[Case], list[PitchFrame]]
    live: bool = True
    slow: bool = False


def ours(settings: FollowSettings | None = None) -> Row:
    """Our follower."""
    chosen = settings or FollowSettings()
    return Row("reedwire", lambda case: follow(case, chosen))


def follow(case: Case, settings: FollowSettings, block: int = _BLOCK) -> list[PitchFrame]:
    """What our follower makes of a case, given blocks of that many samples."""
    sound = case.sound
    follower = make_follower(settings, sound.rate, case.floor_hz)
    frames: list[PitchFrame] = []
    for start in range(0, len(sound.samples), block):
        frames += follower.follow(AudioBlock(start, sound.rate, sound.samples[start : start + block]))
    return frames


def aubio_row(method: str, window: int, hop: int) -> Row:
    """One of aubio's methods."""
    return Row(f"aubio {method} {window}/{hop}", lambda case: _aubio(case, method, window, hop))


def aubio_pitch(method: str, window: int, hop: int, rate: int) -> aubio.pitch:
    """A pitch object of aubio, set as in the benchmark."""
    pitch = aubio.pitch(method, window, hop, rate)
    pitch.set_unit("Hz")
    pitch.set_silence(SILENT_BELOW_DB)
    return pitch


def _aubio(case: Case, method: str, window: int, hop: int) -> list[PitchFrame]:
    sound = case.sound
    pitch, least = aubio_pitch(method, window, hop, sound.rate), _LEAST_CONFIDENCE[method]
    settings, floor_hz = FollowSettings(), case.floor_hz
    articulation = Articulation(settings.gate, settings.restrike, hop / sound.rate)
    energy = np.concatenate([[0.0], np.cumsum(sound.samples.astype(np.float64) ** 2)])
    frames = []
    for end in range(hop, len(sound.samples) + 1, hop):
        hz = float(pitch(sound.samples[end - hop : end])[0])
        confident = least is None or float(pitch.get_confidence()) >= least
        begin = max(0, end - _LEVEL_SAMPLES)
        level_db = power_to_db(float(energy[end] - energy[begin]) / (end - begin))
        sounding = articulation.step(level_db)
        heard_hz = hz if confident and floor_hz <= hz <= CEILING_HZ else 0.0
        ready_s = end / sound.rate
        frames.append(
            PitchFrame(
                ready_s - window / 2 / sound.rate, ready_s, heard_hz, level_db, 1.0, 1.0, 0.0, attack=sounding.attack
            )
        )
    return frames


def _praat(case: Case) -> list[PitchFrame]:
    sound = parselmouth.Sound(case.sound.samples.astype(np.float64), sampling_frequency=float(case.sound.rate))
    pitch = sound.to_pitch_ac(time_step=_OFFLINE_STEP_S, pitch_floor=case.floor_hz, pitch_ceiling=CEILING_HZ)
    return _offline(np.asarray(pitch.xs()), np.asarray(pitch.selected_array["frequency"]))


def _yin(case: Case) -> list[PitchFrame]:
    samples = case.sound.samples
    hz = librosa.yin(
        samples, fmin=case.floor_hz, fmax=CEILING_HZ, sr=case.sound.rate, frame_length=_WINDOW, hop_length=_HOP
    )
    rms = librosa.feature.rms(y=samples, frame_length=_WINDOW, hop_length=_HOP)[0]
    loud = rms > 10.0 ** (SILENT_BELOW_DB / 20.0)
    return _offline(np.arange(len(hz)) * _HOP / case.sound.rate, np.where(loud[: len(hz)], hz, 0.0))


def _pyin(case: Case) -> list[PitchFrame]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        hz, voiced, _ = librosa.pyin(
            case.sound.samples,
            fmin=case.floor_hz,
            fmax=CEILING_HZ,
            sr=case.sound.rate,
            frame_length=_WINDOW,
            hop_length=_HOP,
        )
    return _offline(np.arange(len(hz)) * _HOP / case.sound.rate, np.where(voiced, np.nan_to_num(hz), 0.0))


def _offline(times: Floats, hz: Floats) -> list[PitchFrame]:
    """Frames of an estimator that sees the future: ready at the very instant they describe."""
    return [
        PitchFrame(time, time, pitch, SILENCE_DB, 1.0, 1.0, 0.0)
        for time, pitch in zip(times.tolist(), hz.tolist(), strict=True)
    ]


AUBIO_KINDS = tuple((method, *size) for method in _LEAST_CONFIDENCE for size in ((2048, 256), (1024, 128)))
AUBIO = tuple(aubio_row(*kind) for kind in AUBIO_KINDS)
OFFLINE = (
    Row("Praat ac", _praat, live=False),
    Row("librosa yin", _yin, live=False),
    Row("librosa pyin", _pyin, live=False, slow=True),
)
