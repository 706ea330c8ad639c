"""A take as a stream of events: what its tables say, from any time, at any speed, round and round."""

from __future__ import annotations

from itertools import islice, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.errors import UserError
from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchPoint
from bridge.quantise.scales import find_scale
from bridge.quantise.settings import QuantiseSettings
from bridge.takes.edited import Breakpoint, EditedNote
from bridge.takes.performed import STEP_S, hearing, performed
from bridge.takes.replayed import Ground, Reach, Tuned, replayed
from takes.made_notes import any_notes, edited

HEARING = hearing(0.0, 67, find_scale("blues", {}), QuantiseSettings().for_harp(400.0, None))
#: A C harp in cross position at A4 = 440 Hz: its root is G4 (MIDI tuning: note 67, 391.995 Hz).
GROUND = Ground(0.0, 67, 391.99544, -48.0, -9.0, HEARING)
NOTES = [
    edited(1, 0.5, 1.0, 71, points=(Breakpoint(0.0, -100.0, 0.2), Breakpoint(0.5, 0.0, 0.8))),
    edited(2, 1.6, 0.4, 67, degree="1"),
]


def events(notes: list[EditedNote], reach: Reach, grounds: tuple[Ground, ...] = (GROUND,)) -> list[Event]:
    """All but how the harp is tuned; reach must end."""
    return [event for event in replayed(notes, grounds, reach) if not isinstance(event, Tuned)]


def test_the_whole_take_is_what_its_tables_perform_with_the_pitch_beside() -> None:
    """Notes and inflections exactly; the pitch of B4 less a semitone first, silence before and after."""
    made = events(NOTES, Reach(0.0, 2.5))
    assert [event for event in made if not isinstance(event, PitchPoint)] == list(performed(NOTES, [HEARING]))
    points = [event for event in made if isinstance(event, PitchPoint)]
    first = next(point for point in points if point.hz > 0.0)
    assert first.time_s == 0.5
    # Bb4 is 466.164 Hz (MIDI 1.0 tuning, note 70).
    assert first.hz == pytest.approx(466.164, abs=0.001)
    assert first.cents == pytest.approx(300.0)
    assert first.level_db == pytest.approx(-48.0 + 0.2 * 39.0)
    assert points[0].hz == points[-1].hz == 0.0


def test_a_note_that_does_not_move_is_still_heard() -> None:
    """Points go on at the pace of live playing, so that what was held back goes out."""
    held = [edited(1, 0.0, 1.0, 67)]
    points = [
        event.time_s for event in events(held, Reach(0.0, 1.0)) if isinstance(event, PitchPoint) and event.hz > 0.0
    ]
    assert max(after - before for before, after in pairwise(points)) <= STEP_S + 1e-9


def test_from_the_middle_of_a_note_it_begins_there() -> None:
    """At the bend and the breath of that moment, and ends after what is left of it."""
    made = [event for event in events(NOTES, Reach(0.75, 1.55)) if isinstance(event, NoteOn | NoteOff)]
    on, off = made
    assert isinstance(on, NoteOn)
    assert (on.time_s, on.midi_note) == (0.0, 71)
    assert on.inflection.bend_cents == pytest.approx(-50.0)
    assert on.inflection.breath == pytest.approx(0.5)
    assert off.time_s == 0.75


def test_at_half_the_speed_it_takes_twice_as_long() -> None:
    """The same notes and bends, at twice the time."""
    slow = [event for event in events(NOTES, Reach(0.0, 2.5, 0.5)) if isinstance(event, NoteOn | NoteOff)]
    plain = [event for event in events(NOTES, Reach(0.0, 2.5)) if isinstance(event, NoteOn | NoteOff)]
    assert [event.time_s for event in slow] == pytest.approx([2.0 * event.time_s for event in plain])
    moves = [event for event in events(NOTES, Reach(0.0, 2.5, 0.5)) if isinstance(event, Inflection)]
    middle = min(moves, key=lambda move: abs(move.time_s - 1.5))
    assert middle.bend_cents == pytest.approx(-50.0, abs=100.0 * STEP_S)


def test_round_and_round_it_comes_again_without_a_gap() -> None:
    """The third round begins two rounds later, with numbers of its own, and never drifts."""
    loop = replayed(NOTES, [GROUND], Reach(0.75, 1.55, loop=True))
    ons = list(islice((event for event in loop if isinstance(event, NoteOn)), 1000))
    assert [on.time_s for on in ons[:3]] == [0.0, 0.8, 1.6]
    assert ons[-1].time_s == pytest.approx(999 * 0.8, abs=1e-5)
    assert len({on.note_id for on in ons}) == 1000


def test_a_harp_that_is_tuned_otherwise_is_told_before_its_first_note() -> None:
    """A root 10 cents higher from the second note on (1200 * log2(394.266 / 391.995) = 10.0)."""
    sharp = Ground(1.5, 67, 394.26626, -48.0, -9.0, HEARING)
    told = [event for event in replayed(NOTES, [GROUND, sharp], Reach(0.0, 2.5)) if isinstance(event, Tuned | NoteOn)]
    kinds = [type(event).__name__ for event in told]
    assert kinds == ["Tuned", "NoteOn", "Tuned", "NoteOn"]
    assert isinstance(told[2], Tuned)
    assert told[2].sharp_cents == pytest.approx(10.0, abs=0.01)


@pytest.mark.parametrize(("reach", "words"), [((3.0, 2.5, 1.0), "after the beginning"), ((0.0, 2.5, 9.0), "0.1 to 4")])
def test_what_cannot_be_sent_is_refused(reach: tuple[float, float, float], words: str) -> None:
    """With what is allowed."""
    with pytest.raises(UserError, match=words):
        Reach(*reach)


def test_where_it_is() -> None:
    """In seconds of the take, also at another speed, in a loop, before it has begun and after it has ended."""
    reach = Reach(2.0, 6.0, 0.5)
    assert [reach.place(sent_s) for sent_s in (-1.0, 0.0, 4.0, 100.0)] == [2.0, 2.0, 4.0, 6.0]
    assert Reach(2.0, 6.0, 2.0, loop=True).place(5.0) == 4.0


@given(any_notes(), st.floats(0.0, 3.0), st.floats(0.01, 4.0), st.floats(0.1, 4.0))
def test_every_on_gets_its_off_in_order(notes: list[EditedNote], from_s: float, length_s: float, speed: float) -> None:
    """Two rounds of any part of any take: times never go back, and one note sounds at a time."""
    reach = Reach(from_s, from_s + length_s, speed, loop=True)
    made = []
    for event in replayed(notes, [GROUND], reach):
        if event.time_s > 2.0 * reach.round_s + 1e-4:
            break
        made.append(event)
    times = [event.time_s for event in made]
    assert all(after >= before - 2e-5 for before, after in pairwise(times))
    sounding: int | None = None
    for event in made:
        if isinstance(event, NoteOn):
            assert sounding is None
            sounding = event.note_id
        elif isinstance(event, NoteOff):
            assert event.note_id == sounding
            sounding = None
        elif isinstance(event, Inflection):
            assert event.note_id == sounding
