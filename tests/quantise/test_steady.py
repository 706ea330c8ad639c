"""Every note with the same delay."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import Inflection, NoteOff, NoteOn
from bridge.quantise.steady import SteadyDelay


def test_what_is_sure_early_waits_and_what_is_late_goes_at_once() -> None:
    """Two notes sure 8 and 20 ms after their attacks both go out after 30; one sure after 45 does not wait longer."""
    steady = SteadyDelay(0.030)
    steady.hold(NoteOff(1, 1.000, 1.008))
    steady.hold(NoteOff(2, 1.100, 1.120))
    assert steady.due(1.029) == []
    assert steady.due(1.0301) == [NoteOff(1, 1.000, 1.0301)]
    assert steady.due(1.1301) == [NoteOff(2, 1.100, 1.1301)]
    steady.hold(NoteOff(3, 1.200, 1.245))
    assert steady.due(1.245) == [NoteOff(3, 1.200, 1.245)]


@given(st.lists(st.tuples(st.floats(0, 10), st.floats(0, 0.1)), max_size=30), st.lists(st.floats(0, 12), max_size=30))
def test_nothing_is_lost_or_overtaken(times: list[tuple[float, float]], polls: list[float]) -> None:
    """Whatever is held comes out once, in the order it came in, the rest when asked for."""
    steady = SteadyDelay(0.030)
    held = [NoteOff(index, time_s, time_s + more) for index, (time_s, more) in enumerate(sorted(times))]
    for event in held:
        steady.hold(event)
    out = [event for now in sorted(polls) for event in steady.due(now)] + steady.rest(12.0)
    assert [event.note_id for event in out if isinstance(event, NoteOff)] == [event.note_id for event in held]


def test_a_note_that_was_still_held_is_never_begun() -> None:
    """When all must end now, the note already sent ends at that time, and one not yet sent stays silent."""
    steady = SteadyDelay(0.030)
    move = Inflection(2, 1.1, 1.11, 0.0, "1", 0.0, 0.0, 0.5, 0.5)
    for event in (NoteOff(1, 1.09, 1.1), NoteOn(2, 1.1, 1.11, 67, 0.7, move), NoteOff(2, 1.115, 1.12)):
        steady.hold(event)
    assert steady.rest(1.12) == [NoteOff(1, 1.09, 1.12)]
    assert steady.rest(2.0) == []


def _octave(upper_s: float, lower_s: float, upper: int = 79) -> list[NoteOn | NoteOff | Inflection]:
    """The upper reed of an octave, then the lower one that the note is; attack and take-over in seconds."""
    high, low = (Inflection(note, 1.0, 1.0, 0.0, "1", 0.0, 0.0, 0.5, 0.5) for note in (1, 2))
    return [
        NoteOn(1, upper_s, upper_s + 0.008, upper, 0.7, high),
        high,
        NoteOff(1, lower_s, lower_s + 0.002),
        NoteOn(2, lower_s, lower_s + 0.002, 67, 0.7, low),
    ]


def test_an_octave_is_one_note_where_the_delay_has_room_for_it() -> None:
    """The upper reed is heard 18 ms before the lower one: one note goes out, the lower one, from the upper's attack."""
    steady = SteadyDelay(0.030)
    *upper, lower = _octave(1.000, 1.018)
    for event in (*upper, lower):
        steady.hold(event)
    assert isinstance(lower, NoteOn)
    assert steady.due(1.0301) == [replace(lower, time_s=1.000, ready_s=1.0301)]
    assert steady.rest(2.0) == []


def test_an_upper_reed_that_was_sent_already_is_ended() -> None:
    """A lower reed that comes in too late for the delay is a note of its own, and the upper one is ended before."""
    steady = SteadyDelay(0.030)
    on, move, off, lower = _octave(1.000, 1.040)
    steady.hold(on)
    steady.hold(move)
    assert [type(event) for event in steady.due(1.031)] == [NoteOn, Inflection]
    steady.hold(off)
    steady.hold(lower)
    assert [type(event) for event in steady.due(1.071)] == [NoteOff, NoteOn]


def test_two_notes_that_are_no_octave_stay_two() -> None:
    """A fast step of eleven semitones, or an octave with a rest of 20 ms between, is two notes under the delay too."""
    for events in (_octave(1.000, 1.018, upper=78), [*_octave(1.000, 1.004)[:3], *_octave(1.0, 1.025)[3:]]):
        steady = SteadyDelay(0.030)
        for event in events:
            steady.hold(event)
        assert [type(event) for event in steady.due(1.060)] == [NoteOn, Inflection, NoteOff, NoteOn]
