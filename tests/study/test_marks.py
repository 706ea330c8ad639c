"""The marks of notes whose every sample is known: the rehearsal, whose truth is the derivative of its phase."""

from __future__ import annotations

import numpy as np
import pytest

from bridge.study.marks import SPOKEN_S, Beat, NoteMarks, marks_of
from bridge.study.note_frames import NoteFrames
from sounds.known import KnownSound
from sounds.rehearsed import BENCH_KEYS, harp_hz, rehearsed
from study.chain_notes import marks_by_chain, true_cents

CENTS, SECONDS = 5.0, 0.020
RATE_HZ, DEPTH_CENTS = 0.2, 3.0
SEEDS = (1, 2)


def heard(key: str, seed: int, passage: str) -> tuple[KnownSound, list[NoteMarks], float]:
    """A passage of the rehearsal, the marks of its notes, and the root in Hz of the harp as it is tuned."""
    sound = rehearsed(key, seed, [passage], weak=False)
    a4_hz = 440.0 + seed
    marks = marks_by_chain(sound, key, {"a4_hz": a4_hz})
    assert len(marks) == len(sound.notes)
    return sound, marks, harp_hz(key, a4_hz)[0]


@pytest.mark.parametrize("key", BENCH_KEYS)
@pytest.mark.parametrize("seed", SEEDS)
def test_a_released_third_has_its_beginning_its_release_and_its_end(key: str, seed: int) -> None:
    """Begun near the minor, released upwards over half a second to an eighth, held straight: each within the limits."""
    sound, marks, root_hz = heard(key, seed, "released third")
    for note, found in zip(sound.notes, marks, strict=True):
        (from_s, low), (to_s, high) = note.bend.points
        straight = true_cents(sound, note.end_s - 0.1, root_hz)
        early_s = note.attack_s - note.start_s
        assert found.start_s == pytest.approx(note.attack_s, abs=SECONDS)
        assert found.begin_cents == pytest.approx(straight + low - high, abs=CENTS)
        assert found.settle_cents == pytest.approx(straight, abs=CENTS)
        assert found.settle_s == pytest.approx(to_s - early_s, abs=SECONDS)
        release = found.release
        assert release is not None
        assert release.from_cents == pytest.approx(straight + low - high, abs=CENTS)
        assert release.to_cents == pytest.approx(straight, abs=CENTS)
        assert release.start_s == pytest.approx(from_s - early_s, abs=SECONDS)
        assert release.length_s == pytest.approx(to_s - from_s, abs=SECONDS)
        assert found.vibrato is None
        assert found.steady_cents < 1.0


@pytest.mark.parametrize("key", BENCH_KEYS)
@pytest.mark.parametrize("seed", SEEDS)
def test_vibrato_has_its_rate_and_its_depth(key: str, seed: int) -> None:
    """4 to 8 Hz and 10 to 60 cents to either side; where the note lies and how it began stay what they are."""
    sound, marks, root_hz = heard(key, seed, "vibrato")
    for note, found in zip(sound.notes, marks, strict=True):
        assert found.vibrato is not None
        assert found.vibrato.rate_hz == pytest.approx(note.bend.vibrato_hz, abs=RATE_HZ)
        assert found.vibrato.depth_cents == pytest.approx(note.bend.vibrato_cents, abs=DEPTH_CENTS)
        assert found.vibrato.start_s == pytest.approx(note.bend.vibrato_from_s, abs=0.2)
        assert found.settle_cents == pytest.approx(true_cents(sound, note.attack_s + 0.1, root_hz), abs=CENTS)
        assert found.begin_cents == pytest.approx(found.settle_cents, abs=CENTS)
        assert found.release is None
        assert found.steady_cents < 2.0


@pytest.mark.parametrize("key", BENCH_KEYS)
@pytest.mark.parametrize("seed", SEEDS)
def test_a_scoop_settles_when_it_is_there(key: str, seed: int) -> None:
    """From 200 cents below within 80 to 170 ms: begun where it is once the reed speaks, settled at the scoop's end."""
    sound, marks, root_hz = heard(key, seed, "scoops")
    for note, found in zip(sound.notes, marks, strict=True):
        early_s = note.attack_s - note.start_s
        assert found.begin_cents == pytest.approx(true_cents(sound, found.start_s + SPOKEN_S, root_hz), abs=CENTS)
        assert found.settle_cents == pytest.approx(true_cents(sound, note.attack_s + 0.4, root_hz), abs=CENTS)
        assert found.settle_s == pytest.approx(note.bend.points[1][0] - early_s, abs=SECONDS)


@pytest.mark.parametrize("key", BENCH_KEYS)
def test_each_tongued_third_has_its_own_depth(key: str) -> None:
    """Eight short thirds, each a little deeper than the one before, from straight to minor."""
    sound, marks, root_hz = heard(key, 1, "tongued third with growing bend")
    for note, found in zip(sound.notes, marks, strict=True):
        assert found.settle_cents == pytest.approx(true_cents(sound, note.attack_s + 0.07, root_hz), abs=CENTS)
        assert found.settle_s == 0.0
        assert found.release is None
    assert [found.start_s for found in marks] == pytest.approx([note.attack_s for note in sound.notes], abs=SECONDS)


@pytest.mark.parametrize("key", BENCH_KEYS)
def test_a_held_third_is_where_it_is(key: str) -> None:
    """Straight from beginning to end: nothing is read into it."""
    _, (found,), _ = heard(key, 1, "straight third")
    assert found.begin_cents == found.settle_cents == pytest.approx(400.0, abs=CENTS)
    assert (found.settle_s, found.release, found.vibrato, found.clean, found.two_holes) == (0.0, None, None, 1.0, False)
    assert found.low_cents == pytest.approx(400.0, abs=CENTS)
    assert found.high_cents == pytest.approx(400.0, abs=CENTS)


@pytest.mark.parametrize(("time_s", "late_s"), [(2.31, 0.01), (2.79, -0.01), (3.3, 0.0), (0.8, 0.0)])
def test_a_start_is_counted_from_the_nearest_beat_after_the_delay(time_s: float, late_s: float) -> None:
    """Beats at 0.2, 0.7, 1.2 ... that come back 0.1 s later: late after them, early before."""
    assert Beat(0.2, 0.5, 0.1).late_s(time_s) == pytest.approx(late_s, abs=1e-9)


def test_a_note_of_nothing_but_slips_has_no_marks() -> None:
    """A few frames that have no pitch in common, as a squeak gives them."""
    cents = np.array([0.0, 300.0, 200.0, 100.0, 0.0, 200.0])
    time_s = np.linspace(1.02, 1.07, len(cents))
    frames = NoteFrames(1.0, 1.15, time_s, cents, np.full(len(cents), -20.0), np.ones(len(cents)))
    assert marks_of(frames) is None
