"""Bends scaled, the place of rest moved, swaying taken out: what changes and what must not."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.takes.edited import Breakpoint, EditedNote
from bridge.takes.settled import settled
from bridge.takes.shaping import move_settled, scale_bends, straighten
from takes.made_notes import any_notes, edited

#: A third begun near the minor, released upwards in a quarter of a second, held at -12 cents, let go downwards.
RELEASED = edited(
    1,
    2.0,
    1.4,
    71,
    points=(
        Breakpoint(0.0, -100.0, 0.4),
        Breakpoint(0.25, -95.0, 0.6),
        Breakpoint(0.5, -12.0, 0.7),
        Breakpoint(1.3, -12.0, 0.7),
        Breakpoint(1.4, -60.0, 0.2),
    ),
)


def swaying(middle_cents: float, deep_cents: float, rate_hz: float, length_s: float = 1.5) -> EditedNote:
    """A note with vibrato from its beginning on, a corner every hundredth of a second."""
    points = tuple(
        Breakpoint(step / 100, middle_cents + deep_cents * math.sin(2 * math.pi * rate_hz * step / 100), 0.5)
        for step in range(round(100 * length_s))
    )
    return edited(1, 0.0, length_s, 71, points=points)


def bends(note: EditedNote) -> list[float]:
    """Of each corner."""
    return [point.bend_cents for point in note.points]


def test_a_released_third_rests_where_it_was_released_to() -> None:
    """Not at the minor third that it begins at; from where it gets there until it is let go."""
    place = settled(RELEASED)
    assert (place.bend_cents, place.from_s, place.to_s) == (-12.0, 0.5, 1.3)


# Vibrato of 4 to 8 Hz and 10 to 60 cents: measured on voice, strings and flute; on the harmonica from memory.
@pytest.mark.parametrize(("deep_cents", "rate_hz"), [(10.0, 4.0), (30.0, 5.0), (50.0, 6.0), (60.0, 8.0)])
def test_a_note_with_vibrato_rests_in_its_middle(deep_cents: float, rate_hz: float) -> None:
    """Within a fifth of how deep the vibrato is, and from the beginning to the end."""
    place = settled(swaying(-30.0, deep_cents, rate_hz))
    assert abs(place.bend_cents + 30.0) < 0.2 * deep_cents
    assert place.from_s == 0.0


def test_half_the_bends_lie_half_as_far_from_the_straight_third() -> None:
    """Straight at -14 cents, as on a just harp (O. Hansson, table 8B: draw 3 -12, draw 2 +2): -100 becomes -57."""
    half = scale_bends(RELEASED, 0.5, -14.0)
    assert bends(half) == pytest.approx([-57.0, -54.5, -13.0, -13.0, -37.0])
    assert [(point.at_s, point.breath) for point in half.points] == [(p.at_s, p.breath) for p in RELEASED.points]
    assert set(bends(scale_bends(RELEASED, 0.0, -14.0))) == {-14.0}


def test_the_rest_is_moved_and_the_scoop_still_begins_where_it_did() -> None:
    """At -50 cents, begun at the minor third all the same, and let go to where it was let go.

    Arithmetic: 5 of the 88 cents from the minor third up are 2.841 of the 50 that are left.
    """
    moved = move_settled(RELEASED, settled(RELEASED), -38.0)
    assert bends(moved) == pytest.approx([-100.0, -97.159, -50.0, -50.0, -60.0], abs=1e-3)
    assert settled(moved).bend_cents == pytest.approx(-50.0)
    whole = move_settled(RELEASED, settled(RELEASED), -38.0, whole=True)
    assert bends(whole) == pytest.approx([-138.0, -133.0, -50.0, -50.0, -98.0])


def test_a_note_without_scoop_is_moved_as_a_whole() -> None:
    """A steady vibrato keeps its shape from the beginning on."""
    note = swaying(-30.0, 15.0, 5.0)
    moved = move_settled(note, settled(note), 20.0)
    for at_s in (0.0, 0.1, 0.44, 0.8, 1.2):
        assert moved.at(at_s).bend_cents == pytest.approx(note.at(at_s).bend_cents + 20.0)


def test_straightening_takes_the_vibrato_and_keeps_scoop_and_release() -> None:
    """What lies between them is one pitch; what was not to be kept is that pitch as well."""
    assert set(
        bends(straighten(swaying(-30.0, 20.0, 5.0), settled(swaying(-30.0, 20.0, 5.0)), keep_release=False))
    ) == {settled(swaying(-30.0, 20.0, 5.0)).bend_cents}
    place = settled(RELEASED)
    assert straighten(RELEASED, place) == RELEASED
    assert bends(straighten(RELEASED, place, keep_scoop=False)) == [-12.0] * 4 + [-60.0]
    assert bends(straighten(RELEASED, place, keep_scoop=False, keep_release=False)) == [-12.0] * 5


@given(any_notes(), st.floats(-60.0, 60.0))
def test_edits_that_change_nothing_give_the_same_notes(notes: list[EditedNote], straight: float) -> None:
    """Bends as played, and a rest moved by nothing: not one digit is another."""
    for note in notes:
        assert scale_bends(note, 1.0, straight) == note
        assert move_settled(note, settled(note), 0.0) == note


@given(any_notes(), st.floats(-60.0, 60.0), st.booleans(), st.booleans())
def test_what_is_not_bent_stays(notes: list[EditedNote], by_cents: float, scoop: bool, release: bool) -> None:
    """Times, note numbers and breath of any note are what they were, corners rise, and straight stays straight."""
    for note in notes:
        place = settled(note)
        still = straighten(note, place, keep_scoop=scoop, keep_release=release)
        for other in (still, move_settled(note, place, by_cents), scale_bends(note, 1.3, by_cents)):
            assert (other.start_s, other.length_s, other.midi_note) == (note.start_s, note.length_s, note.midi_note)
            times = [point.at_s for point in other.points]
            assert times == sorted(set(times))
            assert times[-1] <= note.length_s
            for at_s in (0.0, 0.3 * note.length_s, note.length_s):
                assert other.at(at_s).breath == pytest.approx(note.at(at_s).breath)
        if not scoop and not release:
            assert set(bends(still)) == {place.bend_cents}
