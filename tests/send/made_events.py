"""Events for the tests of sending and keeping, and a strategy for any sequence of them."""

from __future__ import annotations

from typing import cast

from hypothesis import strategies as st

from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchPoint


def point(time_s: float, hz: float = 440.0, cents: float = 386.0) -> PitchPoint:
    """A point that was ready 4 ms after the instant it describes."""
    return PitchPoint(time_s, time_s + 0.004, hz, cents, -20.0, 1.0)


def inflection(
    time_s: float,
    note_id: int = 1,
    *,
    bend_cents: float = 0.0,
    degree: str = "3",
    blueness: float = 0.0,
    lean: float = 1.0,
    breath: float = 0.5,
    bright: float = 0.5,
) -> Inflection:
    """An inflection with plain values where none is given."""
    return Inflection(note_id, time_s, time_s + 0.004, bend_cents, degree, blueness, lean, breath, bright)


def note_on(
    time_s: float, note_id: int = 1, midi_note: int = 71, velocity: float = 96 / 127, **moved: float | str
) -> NoteOn:
    """A note with the inflection it begins with."""
    first = inflection(time_s, note_id, **moved)  # type: ignore[arg-type]
    return NoteOn(note_id, time_s, time_s + 0.004, midi_note, velocity, first)


def note_off(time_s: float, note_id: int = 1) -> NoteOff:
    """The end of a note."""
    return NoteOff(note_id, time_s, time_s + 0.004)


_unit = st.floats(0.0, 1.0)
_bends = st.floats(-1300.0, 1300.0)
_degrees = st.sampled_from(["1", "b3", "3", "4", "b7"])
_ids = st.integers(0, 3)


def _inflections() -> st.SearchStrategy[Inflection]:
    return st.builds(
        Inflection,
        note_id=_ids,
        time_s=st.just(0.0),
        ready_s=st.just(0.0),
        bend_cents=_bends,
        degree=_degrees,
        blueness=_unit,
        lean=st.floats(-1.0, 1.0),
        breath=_unit,
        bright=_unit,
    )


_kinds = st.one_of(
    _inflections(),
    st.builds(
        lambda first, note, velocity: NoteOn(first.note_id, 0.0, 0.0, note, velocity, first),
        _inflections(),
        st.integers(0, 127),
        _unit,
    ),
    st.builds(NoteOff, note_id=_ids, time_s=st.just(0.0), ready_s=st.just(0.0)),
    st.builds(
        PitchPoint,
        time_s=st.just(0.0),
        ready_s=st.just(0.0),
        hz=st.floats(0.0, 4000.0),
        cents=st.floats(-2400.0, 4800.0),
        level_db=st.floats(-120.0, 0.0),
        clean=_unit,
    ),
)
_steps = st.lists(st.tuples(st.floats(0.0, 0.4), _kinds), max_size=60)


def _timed(steps: list[tuple[float, Event]]) -> list[Event]:
    """The events one after the other, each that long after the last."""
    time_s = 0.0
    events: list[Event] = []
    for passed_s, event in steps:
        time_s += passed_s
        events.append(_at(event, time_s))
    return events


def _at(event: Event, time_s: float) -> Event:
    ready_s = time_s + 0.004
    match event:
        case PitchPoint():
            return PitchPoint(time_s, ready_s, event.hz, event.cents, event.level_db, event.clean)
        case NoteOff():
            return NoteOff(event.note_id, time_s, ready_s)
        case NoteOn():
            first = cast("Inflection", _at(event.inflection, time_s))
            return NoteOn(event.note_id, time_s, ready_s, event.midi_note, event.velocity, first)
    return Inflection(
        event.note_id,
        time_s,
        ready_s,
        event.bend_cents,
        event.degree,
        event.blueness,
        event.lean,
        event.breath,
        event.bright,
    )


#: Any sequence of events, right or wrong (offs of notes that never were, notes that are never ended), in time order.
any_events = _steps.map(_timed)
