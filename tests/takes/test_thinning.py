"""What is left out of journal and MIDI file, and what never is."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import Event, Inflection, NoteOff, NoteOn
from bridge.takes.thinning import Thinning
from send.made_events import any_events, inflection, note_off, note_on, point


def thin(events: list[Event], interval_s: float) -> list[Event]:
    """What is kept of these events."""
    thinning = Thinning(interval_s)
    kept = [item for event in events for item in thinning.take(event)]
    return kept + thinning.rest()


@pytest.mark.parametrize(("hop", "every"), [(64, 3), (96, 2), (192, 1), (480, 1)])
def test_one_value_in_four_milliseconds_is_kept(hop: int, every: int) -> None:
    """Frames that are whole parts of the interval are not lost to rounding, however late in the stream."""
    times = [1000.0 + index * hop / 48000 for index in range(200)]
    kept = thin([note_on(times[0]), *map(inflection, times[1:])], 0.004)
    expected = times[::every]
    got = [event.time_s for event in kept]
    assert got[: len(expected)] == expected
    assert len(got) - len(expected) <= 1
    assert got[-1] == times[-1]


def test_the_last_values_and_the_first_of_each_degree_are_kept() -> None:
    """A glide that ends between two values ends where it was played, and a new degree does not wait."""
    events: list[Event] = [
        note_on(0.0),
        inflection(0.001, bend_cents=-5.0),
        replace(inflection(0.002, bend_cents=-50.0), degree="b3"),
        replace(inflection(0.003, bend_cents=-60.0), degree="b3"),
        point(0.0035),
        note_off(0.004),
    ]
    assert thin(events, 0.004) == [events[0], events[2], events[4], events[3], events[5]]


@given(any_events)
def test_an_interval_of_nothing_keeps_everything(events: list[Event]) -> None:
    """With 0 every frame is kept, in order."""
    assert thin(events, 0.0) == events


@given(any_events, st.floats(0.0, 0.1))
def test_no_beginning_and_no_end_is_ever_left_out(events: list[Event], interval_s: float) -> None:
    """Notes are kept as they are, and what is kept was there before, each once."""
    kept = thin(events, interval_s)
    notes = [event for event in events if not isinstance(event, Inflection)]
    assert [event for event in kept if not isinstance(event, Inflection)] == notes
    identities = {id(event) for event in events}
    assert all(id(event) in identities for event in kept)
    assert len({id(event) for event in kept}) == len(kept)
    for before, event in pairwise(events):
        if isinstance(event, NoteOff) and isinstance(before, Inflection):
            assert before in kept
    assert all(event in kept for event in events if isinstance(event, NoteOn))
