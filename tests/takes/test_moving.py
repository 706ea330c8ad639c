"""Notes moved in time: onto beats, with swing, faster and slower, never over one another."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.errors import UserError
from bridge.takes.edited import Breakpoint, EditedNote, Tempo
from bridge.takes.moving import SwungBeats, at_speed, quantised, shifted, swung_beats
from takes.made_notes import any_notes, edited

grids = st.builds(SwungBeats, st.floats(0.05, 1.0), st.floats(0.0, 2.0), st.floats(0.5, 0.75))


def starts(notes: list[EditedNote]) -> list[float]:
    """Of each note."""
    return [note.start_s for note in notes]


def test_starts_go_to_the_nearest_eighths_and_lengths_follow() -> None:
    """At 120 quarters a minute an eighth lasts a quarter of a second; a length reaches as far into its beat as before.

    Arithmetic: 0.23..0.49 begins on 0.25; the time from 0.23 to 0.52, where the next note begins, becomes that from
    0.25 to 0.5, so that 0.49 becomes 0.25 + 0.26 * 0.25 / 0.29 = 0.47414.
    """
    notes = [edited(1, 0.23, 0.26, 71), edited(2, 0.52, 0.2, 67)]
    grid = swung_beats(Tempo(120.0, 0.0), 0.5)
    one, two = quantised(notes, grid, 1.0)
    assert (one.start_s, two.start_s) == (0.25, 0.5)
    assert one.end_s == pytest.approx(0.47414, abs=1e-5)
    assert starts(quantised(notes, grid, 0.5)) == [0.24, 0.51]


def test_the_second_of_two_eighths_is_swung() -> None:
    """At two thirds of the beat with a triplet's swing (common practice, no source)."""
    notes = [edited(number, 0.25 * number, 0.2, 71) for number in range(4)]
    assert starts(quantised(notes, swung_beats(Tempo(120.0, 0.0), 0.5, 2 / 3), 1.0)) == pytest.approx(
        [0.0, 1 / 3, 0.5, 0.5 + 1 / 3], abs=1e-5
    )


def test_a_quick_run_stays_a_run() -> None:
    """Four notes nearest to one beat do not fall on it together: one does, and the others stay beside it in order."""
    notes = [edited(number, 0.9 + 0.06 * number, 0.05, 71) for number in range(4)]
    made = quantised(notes, SwungBeats(1.0), 1.0)
    assert made[2].start_s == 1.0
    assert all(after.start_s > before.end_s for before, after in pairwise(made))


def test_no_swing_beyond_what_can_be_played() -> None:
    """A swing of nine tenths is refused with what is allowed."""
    with pytest.raises(UserError, match=r"0\.9.*0\.5 to 0\.75"):
        SwungBeats(0.25, swing=0.9)


@given(any_notes(), grids, st.floats(0.0, 1.0))
def test_quantised_notes_keep_order_and_room(notes: list[EditedNote], grid: SwungBeats, strength: float) -> None:
    """None before 0, none over another, none without length, corners inside; the same notes at the same pitches."""
    made = quantised(notes, grid, strength)
    assert [(note.id, note.midi_note) for note in made] == [(note.id, note.midi_note) for note in notes]
    for note in made:
        assert note.start_s >= 0.0
        assert note.length_s > 0.0
        times = [point.at_s for point in note.points]
        assert times == sorted(set(times))
        assert times[-1] <= note.length_s
    assert all(after.start_s >= before.end_s - 1e-9 for before, after in pairwise(made))


@given(any_notes(), grids)
def test_no_strength_moves_nothing(notes: list[EditedNote], grid: SwungBeats) -> None:
    """Not one digit is another."""
    assert quantised(notes, grid, 0.0) == notes


@given(st.integers(1, 40), st.floats(40.0, 240.0))
def test_what_lies_on_the_beats_stays_there(count: int, quarters: float) -> None:
    """Full strength on notes that lie where they belong moves none by more than rounding."""
    tempo = Tempo(quarters, 0.4)
    notes = [
        edited(number, round(tempo.bar_1_s + number * tempo.quarter_s, 5), round(0.8 * tempo.quarter_s, 5), 71)
        for number in range(count)
    ]
    for before, after in zip(notes, quantised(notes, swung_beats(tempo, 1.0), 1.0), strict=True):
        assert after.start_s == pytest.approx(before.start_s, abs=2e-5)
        assert after.length_s == pytest.approx(before.length_s, abs=4e-5)


def test_at_half_the_speed_everything_takes_twice_as_long() -> None:
    """Starts, lengths and the corners of the curve; the bends are the same."""
    note = edited(1, 1.0, 0.5, 71, points=(Breakpoint(0.1, -50.0, 0.5), Breakpoint(0.4, 0.0, 0.5)))
    (slow,) = at_speed([note], 0.5)
    assert (slow.start_s, slow.length_s) == (2.0, 1.0)
    assert slow.points == (Breakpoint(0.2, -50.0, 0.5), Breakpoint(0.8, 0.0, 0.5))


@given(any_notes())
def test_later_is_only_later(notes: list[EditedNote]) -> None:
    """Shifting there and back gives the same notes."""
    assert shifted(shifted(notes, 12.5, 100), -12.5, -100) == notes
