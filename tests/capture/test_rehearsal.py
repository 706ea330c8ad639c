"""The rehearsal and the demo's tune: every passage holds what its name says, on every harp."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from bridge.base.errors import ClosedError
from bridge.base.units import cents_between
from bridge.capture.demo_tune import demo_tune
from bridge.capture.passages import Passage, Tuning
from bridge.capture.player import Performance, PlayedNote, perform
from bridge.capture.rehearsal import Rehearsal, demo_performance, rehearsal_passages, rehearsal_score

#: Ten-hole diatonic layout on a C harp as MIDI notes (OEIS A291810).
BLOW = (60, 64, 67, 72, 76, 79, 84, 88, 91, 96)
DRAW = (62, 67, 71, 74, 77, 81, 83, 86, 89, 93)
PASSAGES = (
    "straight third",
    "released third",
    "scoops",
    "vibrato",
    "tongued repeats 40 ms",
    "tongued repeats 20 ms",
    "tongued third with growing bend",
    "fast bends",
    "hand flutter",
    "alternation",
    "weak fundamental",
    "whole range",
    "silence and breath",
)


def harp(semitones: int = 0, position: int = 2) -> tuple[float, list[float]]:
    """Root and reeds in Hz of a harp that far above C, equal temperament, A4 = 440."""
    midi = [note + semitones for note in BLOW + DRAW]
    root = 60 + semitones + 7 * (position - 1) % 12
    return 440.0 * 2.0 ** ((root - 69) / 12.0), [440.0 * 2.0 ** ((note - 69) / 12.0) for note in midi]


def played(name: str) -> tuple[Performance, list[float]]:
    """A passage on a C harp in cross position, and the cents above the root at which each note starts."""
    root_hz, reeds_hz = harp()
    passage = rehearsal_passages(root_hz, reeds_hz)[name]
    performance = perform(passage.parts, length_s=passage.length_s)
    starts = [cents_between(performance.f0_hz[round(note.start_s * 48000)], root_hz) for note in performance.notes]
    return performance, starts


def notes_of(passage: Passage) -> list[PlayedNote]:
    """The notes without the breaths."""
    return [part for part in passage.parts if isinstance(part, PlayedNote)]


def test_every_passage_has_its_name_and_the_score_joins_them_all() -> None:
    """The score is as long as its passages together and keeps their order."""
    passages = rehearsal_passages(*harp())
    assert tuple(passages) == PASSAGES
    score = rehearsal_score(*harp())
    assert score.length_s == pytest.approx(sum(passage.length_s for passage in passages.values()))
    assert len(score.parts) == sum(len(passage.parts) for passage in passages.values())
    starts = [part.start_s for part in score.parts]
    assert starts == sorted(starts)


def test_released_thirds_begin_low_and_end_straight_in_one_note() -> None:
    """Each begins 70 to 100 cents below the straight third and is straight at its end."""
    performance, starts = played("released third")
    assert [round(cents) for cents in starts] == [300, 310, 330]
    root_hz, _ = harp()
    for note in performance.notes:
        assert cents_between(performance.f0_hz[round(note.end_s * 48000) - 1], root_hz) == pytest.approx(400.0)


def test_scoops_begin_200_cents_below() -> None:
    """Root, third, fourth and fifth are each approached from two semitones under them."""
    _, starts = played("scoops")
    assert [round(cents) for cents in starts] == [-200, 200, 300, 500]


@pytest.mark.parametrize(("name", "gap_s"), [("tongued repeats 40 ms", 0.040), ("tongued repeats 20 ms", 0.020)])
def test_tongued_repeats_are_ten_a_second_with_gaps_that_can_be_seen(name: str, gap_s: float) -> None:
    """The truth lists ten notes a tenth of a second apart, and the sound falls by 40 dB between them."""
    performance, _ = played(name)
    notes = performance.notes
    assert len(notes) == 10
    for note, after in pairwise(notes):
        assert after.start_s - note.start_s == pytest.approx(0.1)
        assert after.start_s - note.end_s == pytest.approx(gap_s)
        sounding, silent = (
            performance.samples[round(from_s * 48000) : round(to_s * 48000)].astype(np.float64)
            for from_s, to_s in ((note.start_s + 0.02, note.end_s - 0.01), (note.end_s, after.start_s))
        )
        assert 10.0 * np.log10(np.mean(sounding**2) / np.mean(silent**2)) > 40.0


def test_the_tongued_third_is_bent_a_little_more_each_time() -> None:
    """Eight thirds go down evenly from straight to minor."""
    _, starts = played("tongued third with growing bend")
    np.testing.assert_allclose(starts, np.linspace(400.0, 300.0, 8), atol=1e-6)


def test_the_whole_range_has_every_reed_once() -> None:
    """Nineteen pitches of a C harp, two of whose twenty reeds sound the same, in rising order."""
    performance, _ = played("whole range")
    hz = [note.hz for note in performance.notes]
    assert hz == sorted(set(harp()[1]))
    assert len(hz) == 19


def test_silence_and_breath_hold_no_note() -> None:
    """The last passage is heard but has no pitch."""
    performance, _ = played("silence and breath")
    assert performance.notes == ()
    assert not performance.f0_hz.any()


def test_a_third_of_ones_own_can_be_given() -> None:
    """With a just third of 386.3 cents (5/4) the straight third is that."""
    root_hz, reeds_hz = harp()
    third = rehearsal_passages(root_hz, reeds_hz, 386.3, 315.6)["straight third"].parts[0]
    assert isinstance(third, PlayedNote)
    assert cents_between(third.hz, root_hz) == pytest.approx(386.3)


@given(semitones=st.integers(-19, 19), position=st.integers(1, 12))
def test_every_harp_in_every_position_can_play_it(semitones: int, position: int) -> None:
    """No two notes overlap, and every pitch lies on the harp or at most a semitone outside it."""
    root_hz, reeds_hz = harp(semitones, position)
    for score in (rehearsal_score(root_hz, reeds_hz), demo_tune(Tuning(root_hz, tuple(reeds_hz)))):
        notes = notes_of(score)
        for note, after in pairwise(notes):
            assert note.end_s <= after.start_s + 1e-9
        for note in notes:
            assert min(reeds_hz) * 0.94 < note.hz < max(reeds_hz) * 1.06
        assert max(part.end_s for part in score.parts) <= score.length_s


def test_the_demo_is_half_a_minute_of_phrases_that_come_home() -> None:
    """It lasts 25 to 40 s, rests between its phrases, has blue and straight thirds, and ends long on the root."""
    root_hz, reeds_hz = harp()
    performance = demo_performance(root_hz, reeds_hz)
    assert 25.0 < performance.length_s < 40.0
    assert sum(after.start_s - note.end_s > 0.5 for note, after in pairwise(performance.notes)) >= 3
    first = [cents_between(performance.f0_hz[round(note.start_s * 48000)], root_hz) for note in performance.notes]
    assert sum(295.0 < cents < 330.0 for cents in first) >= 4
    assert sum(395.0 < cents < 405.0 for cents in first) >= 2
    last = performance.notes[-1]
    assert last.hz == pytest.approx(root_hz)
    assert last.length_s > 2.0
    assert np.abs(performance.samples).max() < 0.9


def test_the_rehearsal_gives_the_performance_in_order_and_then_ends() -> None:
    """Blocks follow one another to the last sample, then None for good; opening again starts again."""
    performance = perform([PlayedNote(0.0, 0.1, 440.0)])
    source = Rehearsal(performance, block=1000)
    assert (source.name, source.rate) == ("rehearsal", 48000)
    assert source.length_s == pytest.approx(0.6)
    for _ in range(2):
        with source:
            blocks: list[NDArray[np.float32]] = []
            while (block := source.read(0.0)) is not None:
                assert block.start == 1000 * len(blocks)
                blocks.append(block.samples)
            np.testing.assert_array_equal(np.concatenate(blocks), performance.samples)
            assert source.read(0.0) is None
    with pytest.raises(ClosedError):
        source.read(0.0)
