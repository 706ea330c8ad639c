"""The marks of notes of the sampled harmonica, beside what Praat measures of the same sound (see ``sounds.sampled``).

The rate and depth of vibrato are also read off Praat's pitch curve by SciPy's Fourier transform.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import detrend, find_peaks

from bridge.study.marks import SPOKEN_S, NoteMarks
from sounds.doubles import Holes, together
from sounds.known import KnownSound, TruthNote
from sounds.sampled import sampled
from sounds.scores import THIRD
from study.chain_notes import marks_by_chain, true_cents

#: The root in cross position of a C harp, draw 2 (OEIS A291810), G4 of equal temperament.
ROOT_HZ = 440.0 * 2.0 ** (-2.0 / 12.0)
CENTS, SECONDS = 8.0, 0.020
KEYS = ("low-F", "C", "high-G")


def root_hz(key: str) -> float:
    """The root of a harp in ``key``."""
    return float(ROOT_HZ * 2.0 ** ({"low-F": -7, "C": 0, "high-G": 7}[key] / 12.0))


def by_fourier(sound: KnownSound, note: TruthNote) -> tuple[float, float]:
    """Rate in Hz and depth in cents of the vibrato of ``note``: the largest line of the spectrum of Praat's curve."""
    inside = (sound.times_s >= note.start_s + 0.25) & (sound.times_s <= note.end_s - 0.05) & (sound.hz > 0.0)
    cents = 1200.0 * np.log2(sound.hz[inside] / np.median(sound.hz[inside]))
    window = np.hanning(len(cents))
    size = 1 << 18
    lines = 2.0 * np.abs(np.fft.rfft(detrend(cents) * window, size)) / np.sum(window)
    hz = np.fft.rfftfreq(size, float(sound.times_s[1] - sound.times_s[0]))
    peaks, _ = find_peaks(lines)
    best = max((peak for peak in peaks.tolist() if 3.0 <= hz[peak] <= 10.0), key=lambda peak: lines[peak])
    return float(hz[best]), float(lines[best])


def thirds(sound: KnownSound, marks: list[NoteMarks]) -> list[tuple[TruthNote, NoteMarks]]:
    """The notes that move, each with its marks."""
    pairs = [(note, found) for note in sound.notes for found in marks if abs(found.start_s - note.attack_s) < 0.03]
    return [(note, found) for note, found in pairs if not note.bend.held]


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("name", ["blue thirds", "minor to major"])
def test_a_released_third_is_where_praat_hears_it(key: str, name: str) -> None:
    """Beginning, release and end are within 8 cents of Praat and 20 ms of what was asked for."""
    sound = sampled(name, key)
    pairs = thirds(sound, marks_by_chain(sound, key))
    assert len(pairs) == {"blue thirds": 5, "minor to major": 1}[name]
    for note, found in pairs:
        (from_s, low), (to_s, _) = note.bend.points
        early_s = found.start_s - note.start_s
        straight = true_cents(sound, note.end_s - 0.1, root_hz(key))
        assert found.begin_cents == pytest.approx(true_cents(sound, found.start_s + SPOKEN_S, root_hz(key)), abs=CENTS)
        assert found.settle_cents == pytest.approx(straight, abs=CENTS)
        assert found.settle_s == pytest.approx(to_s - early_s, abs=SECONDS)
        assert found.release is not None
        assert found.release.from_cents == pytest.approx(straight + low, abs=CENTS)
        assert found.release.to_cents == pytest.approx(straight, abs=CENTS)
        assert found.release.start_s == pytest.approx(from_s - early_s, abs=SECONDS)
        assert found.release.length_s == pytest.approx(to_s - from_s, abs=SECONDS)
        assert found.vibrato is None


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("name", ["vibrato", "phrase"])
def test_vibrato_is_what_a_fourier_transform_of_praats_curve_says(key: str, name: str) -> None:
    """Rate within 0.2 Hz and depth within 3 cents, and no vibrato where none was asked for."""
    sound = sampled(name, key)
    with_vibrato = 0
    for note, found in thirds(sound, marks_by_chain(sound, key)):
        if note.bend.vibrato_cents == 0.0:
            assert found.vibrato is None
            continue
        rate_hz, depth_cents = by_fourier(sound, note)
        assert found.vibrato is not None
        assert found.vibrato.rate_hz == pytest.approx(rate_hz, abs=0.2)
        assert found.vibrato.depth_cents == pytest.approx(depth_cents, abs=3.0)
        assert found.vibrato.rate_hz == pytest.approx(note.bend.vibrato_hz, abs=0.2)
        assert found.vibrato.depth_cents == pytest.approx(note.bend.vibrato_cents, abs=3.0)
        with_vibrato += 1
    assert with_vibrato == {"vibrato": 4, "phrase": 2}[name]


def test_two_holes_are_told_from_one() -> None:
    """Draw 2 and 3 at once, and 3 and 4, at even and uneven levels: never clean; each hole alone: always."""
    pairs = [Holes("draw 2+3", (67, 71)), Holes("draw 3+4", (THIRD, 74))]
    for level_db in (0.0, -6.0, -10.0):
        for found in marks_by_chain(together(pairs, "C", (0.0, level_db)), "C"):
            assert found.two_holes, found
            assert found.clean < 0.8
    alone = [replace(pair, midi=pair.midi[:1]) for pair in pairs]
    for found in marks_by_chain(together(alone, "C", (0.0,)), "C"):
        assert not found.two_holes
        assert found.clean > 0.95
