"""Held pitches out of the events of notes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import PitchPoint
from bridge.base.units import cents_between, midi_to_hz
from bridge.study.held import HeldPitches, held_pitches
from sounds.known import Bend
from sounds.scores import ScoreNote
from study.heard import STEP_S, exactly, heard_events

C5 = 72


def off(midi: int, hz: float) -> float:
    """Cents from a MIDI note (MIDI 1.0, 4.2.1)."""
    return cents_between(hz, midi_to_hz(midi))


def test_every_held_note_is_one_pitch_in_its_order() -> None:
    """Pitch, length, beginning and steadiness are those of the notes."""
    score = (ScoreNote(0.1, 0.3, C5), ScoreNote(0.5, 0.8, 67), ScoreNote(1.4, 0.2, C5))
    held = exactly(score)
    assert [note.hz for note in held] == pytest.approx([midi_to_hz(note.midi) for note in score])
    assert [note.length_s for note in held] == pytest.approx([note.length_s for note in score], abs=0.01)
    assert [note.start_s for note in held] == pytest.approx([note.start_s for note in score])
    assert [note.spread_cents for note in held] == pytest.approx([0.0] * 3, abs=1e-6)


def test_a_third_begun_low_and_released_is_two_pitches() -> None:
    """One note that stays at two places gives both, the glide between them neither."""
    (low, high) = exactly((ScoreNote(0.0, 1.0, 71, Bend(((0.3, -200.0), (0.5, 0.0)))),))
    assert off(71, low.hz) == pytest.approx(-200.0, abs=10.0)
    assert off(71, high.hz) == pytest.approx(0.0, abs=3.0)
    assert low.start_s < high.start_s
    assert low.length_s + high.length_s <= 1.0
    assert high.length_s > 0.5


def test_vibrato_is_one_pitch_that_strays() -> None:
    """Forty cents to either side is one held pitch at its middle, its spread that of a sine (40 / sqrt 2)."""
    (held,) = exactly((ScoreNote(0.0, 1.0, C5, Bend(vibrato_cents=40.0, vibrato_hz=5.0)),))
    assert off(C5, held.hz) == pytest.approx(0.0, abs=3.0)
    assert held.spread_cents == pytest.approx(40.0 / 2.0**0.5, abs=1.0)
    assert held.length_s == pytest.approx(1.0, abs=0.02)


def test_what_is_passed_through_is_not_held() -> None:
    """A glide of an octave in half a second holds nothing, and neither does a blip."""
    assert exactly((ScoreNote(0.0, 0.3, C5, Bend(((0.0, -1200.0), (0.3, 0.0)))), ScoreNote(1.0, 0.04, C5)))[1:] == []


def test_pitch_without_a_note_is_not_held() -> None:
    """Talk has a pitch, but it is no note."""
    assert held_pitches([PitchPoint(0.01 * i, 0.01 * i, 200.0, 0.0, -20.0, 1.0) for i in range(100)]) == []


def test_a_few_points_tell_where_a_note_was_held() -> None:
    """With every third point only, and none beyond two seconds, a third begun low is still the same two pitches."""
    score = (ScoreNote(0.0, 5.0, 71, Bend(((0.5, -80.0), (0.9, -250.0)))), ScoreNote(6.0, 0.5, C5))
    every = [event for number in range(len(score)) for event in heard_events(number, score)]
    few = HeldPitches(2.5 * STEP_S, 2.0)
    held = [pitch for event in every for pitch in few.take(event)] + few.finish()
    whole = exactly(score)
    assert [note.hz for note in held] == pytest.approx([note.hz for note in whole], rel=0.002)
    assert [note.start_s for note in held] == pytest.approx([note.start_s for note in whole], abs=0.2)
    assert sum(note.length_s for note in held) < 2.6


@given(
    notes=st.lists(
        st.tuples(st.integers(48, 96), st.floats(0.01, 0.5), st.floats(-300.0, 300.0), st.floats(0.0, 80.0)), max_size=5
    )
)
def test_no_note_is_held_longer_than_it_lasts(notes: list[tuple[int, float, float, float]]) -> None:
    """However it bends, what is held of all notes is no more than their length, in order, and within their pitches."""
    score = tuple(
        ScoreNote(float(index), length, midi, Bend(((0.0, 0.0), (0.3, cents)), vibrato))
        for index, (midi, length, cents, vibrato) in enumerate(notes)
    )
    held = exactly(score)
    # Each point of the curve stands for a whole step.
    assert sum(note.length_s for note in held) <= sum(note.length_s + STEP_S for note in score)
    assert [note.start_s for note in held] == sorted(note.start_s for note in held)
    for note in held:
        assert min(abs(off(each.midi, note.hz)) for each in score) < 380.0 + 1e-6
