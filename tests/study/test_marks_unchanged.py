"""What marks must not hang on: the tempo, the key, the octave, and how often the follower looks."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from bridge.capture.player import curve_at
from bridge.study.marks import NoteMarks, marks_of
from bridge.study.note_frames import NoteFrames

CENTS, PART = 5.0, 0.05
#: A failure is looked into by hand: making it smaller takes minutes.
PHASES = (Phase.explicit, Phase.reuse, Phase.generate)


@dataclass(frozen=True)
class Shape:
    """A third as it may be played: held low, released, held straight with vibrato; times in seconds."""

    low: float
    high: float
    held_s: float
    release_s: float
    after_s: float
    vibrato_hz: float = 0.0
    vibrato_cents: float = 0.0

    def frames(self, times: float = 1.0, up_cents: float = 0.0, step_s: float = 0.0027) -> NoteFrames:
        """The exact frames of it, ``times`` as slow and ``up_cents`` higher."""
        length_s = (self.held_s + self.release_s + self.after_s) * times
        time_s = np.arange(0.0, length_s, step_s)
        corners = ((self.held_s * times, self.low), ((self.held_s + self.release_s) * times, self.high))
        since_s = np.maximum(0.0, time_s / times - self.held_s - self.release_s - 0.25)
        grown = np.minimum(1.0, since_s / 0.2)
        cents = curve_at(corners, time_s) + up_cents
        cents += self.vibrato_cents * grown * np.sin(2.0 * np.pi * self.vibrato_hz * since_s)
        ones = np.ones(len(time_s))
        return NoteFrames(5.0, 5.0 + length_s, 5.0 + time_s, cents, -20.0 * ones, ones)


SHAPES = st.builds(
    Shape,
    low=st.floats(290.0, 350.0),
    high=st.floats(385.0, 402.0),
    held_s=st.floats(0.3, 0.8),
    release_s=st.floats(0.15, 0.6),
    after_s=st.floats(1.2, 1.8),
)


def marked(frames: NoteFrames) -> NoteMarks:
    """The marks of a note that surely has some."""
    marks = marks_of(frames)
    assert marks is not None
    return marks


def assert_alike(one: NoteMarks, other: NoteMarks, times: float, up_cents: float) -> None:
    """The same marks, the times of ``other`` longer and its cents higher."""
    assert other.begin_cents == pytest.approx(one.begin_cents + up_cents, abs=CENTS)
    assert other.settle_cents == pytest.approx(one.settle_cents + up_cents, abs=CENTS)
    assert other.settle_s == pytest.approx(one.settle_s * times, rel=PART, abs=0.02)
    assert one.release is not None
    assert other.release is not None
    assert other.release.rise_cents == pytest.approx(one.release.rise_cents, abs=CENTS)
    assert other.release.start_s == pytest.approx(one.release.start_s * times, rel=PART, abs=0.02)
    assert other.release.length_s == pytest.approx(one.release.length_s * times, rel=PART, abs=0.02)
    assert (one.vibrato is None) == (other.vibrato is None)
    if one.vibrato is not None and other.vibrato is not None:
        assert other.vibrato.rate_hz == pytest.approx(one.vibrato.rate_hz / times, abs=0.2)
        assert other.vibrato.depth_cents == pytest.approx(one.vibrato.depth_cents, abs=3.0)


@given(shape=SHAPES, times=st.floats(0.6, 2.5))
@settings(deadline=None, max_examples=20, phases=PHASES)
def test_tempo_changes_the_times_alone(shape: Shape, times: float) -> None:
    """The same note as slowly or as quickly as anybody plays it has the same cents, and its times in proportion."""
    assert_alike(marked(shape.frames()), marked(shape.frames(times)), times, 0.0)


@given(
    shape=SHAPES,
    rate_hz=st.floats(4.5, 6.5),
    depth_cents=st.floats(10.0, 50.0),
    times=st.floats(0.8, 1.3),
)
@settings(deadline=None, max_examples=20, phases=PHASES)
def test_vibrato_goes_with_the_tempo(shape: Shape, rate_hz: float, depth_cents: float, times: float) -> None:
    """Vibrato after a release: played more slowly its rate is lower, its depth the same, and nothing else changes."""
    shaken = replace(shape, vibrato_hz=rate_hz, vibrato_cents=depth_cents)
    one = marked(shaken.frames())
    assert one.vibrato is not None
    assert_alike(one, marked(shaken.frames(times)), times, 0.0)


@given(shape=SHAPES, up_cents=st.floats(-300.0, 300.0), octave=st.integers(-1, 3), step_s=st.floats(0.002, 0.006))
@settings(deadline=None, max_examples=20, phases=PHASES)
def test_key_and_octave_change_nothing(shape: Shape, up_cents: float, octave: int, step_s: float) -> None:
    """Over another root the cents move with it; an octave higher they are the same; so for frames further apart."""
    moved = marked(shape.frames(up_cents=up_cents + 1200.0 * octave, step_s=step_s))
    assert_alike(marked(shape.frames()), moved, 1.0, up_cents)


@given(
    cents=st.lists(st.one_of(st.just(float("nan")), st.floats(-2000.0, 4000.0)), max_size=80),
    step_s=st.sampled_from((0.0, 0.001, 0.004, 0.3)),
)
@settings(deadline=None, max_examples=100, phases=PHASES)
def test_anything_that_sounds_has_marks_or_none(cents: list[float], step_s: float) -> None:
    """Whatever the follower makes of a noise, marks come out as numbers or not at all."""
    times = 1.0 + step_s * np.arange(len(cents), dtype=np.float64)
    level = np.full(len(cents), -30.0)
    frames = NoteFrames(1.0, 1.0 + step_s * len(cents), times, np.array(cents, np.float64), level, level * 0.0)
    marks = marks_of(frames)
    if marks is not None:
        numbers = (marks.begin_cents, marks.settle_cents, marks.settle_s, marks.steady_cents, marks.low_cents)
        assert np.all(np.isfinite(numbers))
