"""``resung.wav``: the player's own sound with the notes as they were edited.

What was not edited is copied sample for sample. What was is sung again from the same sound (:mod:`bridge.takes.psola`):
pitch and breath follow the edited curve; a note that was moved takes its sound along, one that is shorter is cut off,
one that is longer has its held part drawn out, one that was taken out is silent. A note that was added has no sound of
the player's and stays silent too: it is told. Only the sound in hand is in memory, however long the take.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bridge.base.writing import written_safely
from bridge.takes.edited import EditedNote
from bridge.takes.joins import rings_s, rise
from bridge.takes.psola import require_praat
from bridge.takes.resinging_plan import RING_S, Plan, Stretch, make_plan
from bridge.takes.resinging_voice import FADE_S, Piece, Voice
from bridge.takes.sound_reading import SampleFile

Floats = NDArray[np.float64]

#: Breath 0 to 1 in dB where the settings say nothing else.
BREATH_DB = 39.0
#: So much sound is written at once, in seconds.
_AT_ONCE_S = 5.0
#: How much of a note before its end tells its level, in seconds.
_LEVEL_S = 0.1
#: Two fades: what lies between two stretches closer than this belongs to the first of them.
_GAP_S = 2.0 * FADE_S


@dataclass(frozen=True, slots=True)
class Resung:
    """What became of the sound: seconds sung again or moved, and how many stretches that was.

    ``unsung`` are the ids of notes for which there is no sound, ``unheard`` counts stretches in which no pitch was
    found, so that they sound as they were played.
    """

    stretches: int
    seconds: float
    unsung: tuple[int, ...]
    unheard: int


def resing(
    sound: Path,
    out: Path,
    played: Sequence[EditedNote],
    wanted: Sequence[EditedNote],
    *,
    a4_hz: float | Callable[[float], float] = 440.0,
    breath_db: float = BREATH_DB,
    progress: Callable[[float], None] = lambda _: None,
) -> Resung:
    """Write ``out``, the mono sound file ``sound`` with the notes ``played`` in it sounding as ``wanted``.

    Notes are matched by id. ``a4_hz`` is the A4 of the tables, or says what it is at a second of the take;
    ``breath_db`` how much louder breath 1 is than 0; ``progress`` is told the part done, 0..1. ``out`` is of the same
    kind as ``sound`` and takes its place at the end, whole or not at all. Raises SoundError for a sound that cannot be
    read, UserError without praat-parselmouth, OSError for a folder that cannot be written.
    """
    require_praat()
    tuning = a4_hz if callable(a4_hz) else lambda _, hz=a4_hz: hz
    with SampleFile(sound) as file:
        plan = make_plan(played, wanted, _Ringing(file))
        voice = Voice(file, tuning, breath_db)
        with written_safely(out) as unfinished, file.open_like(unfinished) as target:
            for part, samples in _Mixed(file, plan, voice):
                target.write(samples)
                progress(part)
    seconds = sum(stretch.until_s - stretch.at_s for stretch in plan.stretches)
    return Resung(len(plan.stretches), seconds, plan.unsung, voice.unheard)


@dataclass(frozen=True, slots=True)
class _Ringing:
    """How long notes ring on in a sound after their end."""

    file: SampleFile

    def __call__(self, end_s: float, next_s: float) -> float:
        """Seconds from ``end_s`` on, where a note ends, no longer than to ``next_s``."""
        rate, end = self.file.rate, round(end_s * self.file.rate)
        most = round(min(RING_S, next_s - end_s) * rate)
        if most <= 0:
            return 0.0
        level = float(np.sqrt(np.mean(self.file.samples(end - round(_LEVEL_S * rate), end) ** 2)))
        # A fade always has room behind the note, if nothing else has.
        ring_s = max(rings_s(self.file.samples(end, end + most), rate, level), min(FADE_S, next_s - end_s))
        return next_s - end_s if next_s - end_s - ring_s < _GAP_S else ring_s


@dataclass(frozen=True, slots=True)
class _Hole:
    """Samples ``begin`` to ``end`` in which nothing of the sound as it was played is heard, but for its fades."""

    begin: int
    end: int
    fade_in: int
    fade_out: int

    def gain(self, begin: int, end: int) -> Floats:
        """What the samples from ``begin`` to ``end``, some of them inside, are multiplied with."""
        gain = np.ones(end - begin)
        gain[max(self.begin - begin, 0) : self.end - begin] = 0.0
        most = (self.end - self.begin) // 2
        fade_in, fade_out = rise(min(self.fade_in, most))[::-1], rise(min(self.fade_out, most))
        for at, fade in ((self.begin, fade_in), (self.end - len(fade_out), fade_out)):
            first, last = max(at, begin), min(at + len(fade), end)
            if first < last:
                gain[first - begin : last - begin] = fade[first - at : last - at]
        return gain


class _Mixed:
    """The new sound in parts of some seconds: what was not edited as it is stored, what was with its fades."""

    def __init__(self, file: SampleFile, plan: Plan, voice: Voice) -> None:
        self._file, self._voice = file, voice
        self._waiting = list(reversed(plan.stretches))
        self._holes = _holes(plan, voice, file.rate)
        self._pieces: list[Piece] = []

    def __iter__(self) -> Iterator[tuple[float, NDArray[np.generic]]]:
        """The part of all that is done with it, 0..1, and samples to write."""
        rate = self._file.rate
        last_s = max((stretch.until_s for stretch in self._waiting), default=0.0)
        count, at_once = max(self._file.count, round(last_s * rate)), round(_AT_ONCE_S * rate)
        for begin in range(0, count, at_once):
            end = min(begin + at_once, count)
            while self._waiting and round(self._waiting[-1].at_s * rate) < end:
                self._pieces.append(self._sung(self._waiting.pop()))
            yield end / count, self._between(begin, end)
            self._pieces = [piece for piece in self._pieces if piece.end > end]
            self._holes = [hole for hole in self._holes if hole.end > end]

    def _sung(self, stretch: Stretch) -> Piece:
        """A stretch; over the beginning of what comes next in the same hole it is faded out."""
        rate = self._file.rate
        end = round(stretch.until_s * rate)
        hole = next(hole for hole in self._holes if hole.begin <= round(stretch.at_s * rate) < hole.end)
        return self._voice.piece(stretch, end, 0 if end == hole.end else round(FADE_S * rate))

    def _between(self, begin: int, end: int) -> NDArray[np.generic]:
        """The samples from ``begin`` to ``end`` as they are stored."""
        stored = self._file.raw(begin, end)
        holes = [hole for hole in self._holes if hole.begin < end]
        pieces = [piece for piece in self._pieces if piece.begin < end]
        if not holes and not pieces:
            return stored
        mixed, touched = self._file.samples(begin, end), np.zeros(end - begin, dtype=np.bool_)
        for hole in holes:
            mixed *= hole.gain(begin, end)
            touched[max(hole.begin - begin, 0) : hole.end - begin] = True
        for piece in pieces:
            first, last = max(begin, piece.begin), min(end, piece.end)
            mixed[first - begin : last - begin] += piece.samples[first - piece.begin : last - piece.begin]
        stored[touched] = self._file.as_raw(mixed[touched])
        return stored


def _holes(plan: Plan, voice: Voice, rate: int) -> list[_Hole]:
    """All that is sung or silenced, in order; what touches is one."""
    fade = round(FADE_S * rate)
    spans = [(round(from_s * rate), round(to_s * rate), fade, fade) for from_s, to_s in plan.silenced]
    for stretch in plan.stretches:
        fades = voice.fade(stretch, joins=stretch.joins_before), voice.fade(stretch, joins=stretch.joins_after)
        spans.append((round(stretch.at_s * rate), round(stretch.until_s * rate), *fades))
    holes: list[_Hole] = []
    for begin, end, fade_in, fade_out in sorted(spans):
        if not holes or begin > holes[-1].end:
            holes.append(_Hole(begin, end, fade_in, fade_out))
        elif end > holes[-1].end:
            holes[-1] = _Hole(holes[-1].begin, end, holes[-1].fade_in, fade_out)
    return holes
