"""The rows of the benchmark: our follower, and the libraries it is measured against.

Every row may look from the harp's lowest reed less a semitone up to 3300 Hz; a pitch outside counts as none. The
quantiser needs a level and fresh attacks besides the pitch, which aubio does not give: every live row gets those of our
follower as it comes, made once a sound and read at the row's own frames, so that rows differ in nothing but pitch.

aubio is driven hop by hop, with its own silence threshold at the -50 dBFS of our gate. Of its three methods only
``yinfast`` has a confidence that tells sound from noise (``yinfft`` reports negative ones for clear notes, ``fcomb``
always 0): it is cut at 0.4, where a sweep over clean and noisy rehearsals loses under 1 % of the recall and nearly all
of the false voicing.

Offline: Praat's autocorrelation (``To Pitch (ac)`` with its default costs, every 4 ms), librosa's ``yin`` (no voicing
of its own: none below -50 dBFS) and ``pyin``, both 2048/256 and otherwise at their defaults.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import astuple, dataclass, fields
from weakref import WeakKeyDictionary

import aubio
import librosa
import numpy as np
import parselmouth
from numpy.typing import NDArray

from bench.cases import Case
from bridge.base.events import AudioBlock, PitchFrame
from bridge.base.units import SILENCE_DB
from bridge.follow.making import make_follower
from bridge.follow.settings import FollowSettings
from sounds.known import Floats

CEILING_HZ = 3300.0
SILENT_BELOW_DB = -50.0
_LEAST_CONFIDENCE = {"yinfft": None, "yinfast": 0.4, "fcomb": None}
_BLOCK = 4096
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
    if settings is None or settings == FollowSettings():
        return Row("reedwire", plain_frames)
    return Row("reedwire", lambda case: follow(case, settings))


_plain: WeakKeyDictionary[Case, Floats] = WeakKeyDictionary()


def plain_frames(case: Case) -> list[PitchFrame]:
    """What our follower with its default settings makes of a case, worked out once and kept as long as the case."""
    return [
        PitchFrame(time_s, ready_s, hz, level_db, confidence, clean, bright, bool(attack), reed, second_hz, int(reeds))
        for (
            time_s,
            ready_s,
            hz,
            level_db,
            confidence,
            clean,
            bright,
            attack,
            reed,
            second_hz,
            reeds,
        ) in _plain_columns(case).tolist()
    ]


def _plain_columns(case: Case) -> Floats:
    """Those frames as an array, one row each, fields in their order: objects would fill the memory."""
    if case not in _plain:
        frames = follow(case, FollowSettings())
        _plain[case] = np.array([astuple(frame) for frame in frames], np.float64).reshape(-1, len(fields(PitchFrame)))
    return _plain[case]


def level_and_attacks(case: Case, ready_s: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Our level in dBFS at these instants (n,), in order, and whether a fresh attack came since the one before."""
    columns = _plain_columns(case)
    # Half a sample later, so that equal instants are equal whatever their rounding.
    upto = np.searchsorted(columns[:, 1], ready_s + 0.5 / case.sound.rate, side="right")
    attacks = np.concatenate([[0.0], np.cumsum(columns[:, 7])])[upto]
    levels = np.where(upto > 0, columns[np.maximum(upto, 1) - 1, 3], SILENCE_DB)
    return levels, np.diff(attacks, prepend=0.0) > 0.0


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
    ends = np.arange(hop, len(sound.samples) + 1, hop)
    levels, attacks = level_and_attacks(case, ends / sound.rate)
    frames = []
    for end, level_db, attack in zip(ends.tolist(), levels.tolist(), attacks.tolist(), strict=True):
        hz = float(pitch(sound.samples[end - hop : end])[0])
        confident = least is None or float(pitch.get_confidence()) >= least
        heard_hz = hz if confident and case.floor_hz <= hz <= CEILING_HZ else 0.0
        ready_s = end / sound.rate
        frames.append(PitchFrame(ready_s - window / 2 / sound.rate, ready_s, heard_hz, level_db, 1.0, 1.0, 0.0, attack))
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
