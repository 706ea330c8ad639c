"""The meter's state: events folded into what there is to show."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import Inflection, NoteOff, NoteOn, PitchPoint, Status
from bridge.base.records import Record, Saying
from bridge.base.units import hz_above, midi_to_hz
from bridge.cli.finished import note_name
from bridge.cli.meter_state import MeterState, folded, root_name


def _inflection(note_id: int, bend: float, degree: str = "3", blueness: float = 0.0) -> Inflection:
    return Inflection(note_id, 1.0, 1.0, bend, degree, blueness, 0.0, 0.5, 0.5)


def test_a_note_is_told_when_it_ends() -> None:
    """Its name, degree and length come back with its end, and stay to be shown."""
    state = MeterState()
    assert state.take(NoteOn(1, 1.0, 1.0, 71, 0.7, _inflection(1, 4.0))) is None
    finished = state.take(NoteOff(1, 1.75, 1.75))
    assert finished is not None
    assert (finished.name, finished.degree, finished.length_s) == ("B4", "3", 0.75)
    assert state.note is None
    assert state.finished == finished


@given(st.floats(-2400.0, 4800.0))
def test_cents_are_folded_around_the_root(cents: float) -> None:
    """Any pitch is told from the nearest root that it lies less than a quarter tone under, or above."""
    assert -50.0 <= folded(cents) < 1150.0 + 1e-9
    assert (folded(cents) - cents) / 1200.0 == pytest.approx(round((folded(cents) - cents) / 1200.0))


def test_a_pitch_is_heard_only_while_it_sounds() -> None:
    """In silence, before anything came, and when nothing comes any more there is no pitch to show."""
    point = PitchPoint(0.0, 0.0, 440.0, 200.0, -20.0, 1.0)
    silence = PitchPoint(0.1, 0.1, 0.0, 0.0, -120.0, 0.0)
    assert MeterState().heard is None
    assert MeterState(point=point).heard == point
    assert MeterState(point=point, stalled=True).heard is None
    assert MeterState(point=silence).heard is None


def test_a_display_that_missed_the_beginning_says_nothing() -> None:
    """The end of a note that was not seen to begin is passed over."""
    state = MeterState()
    assert state.take(NoteOff(3, 1.0, 1.0)) is None
    state.take(NoteOn(4, 1.0, 1.0, 60, 0.5, _inflection(4, 0.0)))
    assert state.take(NoteOff(3, 2.0, 2.0)) is None
    assert state.note is not None


def test_status_and_sayings_are_kept() -> None:
    """Armed or not, the harp, what was lost and the last thing said are there to show."""
    state = MeterState()
    state.take(Status(1.0, armed=False, harp="Bb harp", lost=7, place=2, straight=386.3, a4_hz=443.0))
    state.take(Saying("a cable"))
    assert (state.armed, state.harp, state.lost, state.saying) == (False, "Bb harp", 7, "a cable")


def test_the_trail_is_a_second_long() -> None:
    """Points older than a second are forgotten, silent ones leave no trail."""
    state = MeterState()
    for step in range(300):
        state.take(PitchPoint(step * 0.01, 0.0, 440.0 if step % 2 else 0.0, 350.0, -20.0, 1.0))
    assert [time for time, _ in state.trail] == pytest.approx([step * 0.01 for step in range(201, 300, 2)])


@pytest.mark.parametrize("a4", [436.0, 440.0, 444.0])
@given(root=st.integers(40, 80), cents=st.floats(-1200, 3600))
def test_the_root_is_named_from_any_point(a4: float, root: int, cents: float) -> None:
    """Pitch and cents together tell the root, at the harp's own A4."""
    point = PitchPoint(0.0, 0.0, hz_above(midi_to_hz(root, a4), cents), cents, -20.0, 1.0)
    assert note_name(root).rstrip("-0123456789") == root_name(point, a4)


_ANY: st.SearchStrategy[Record] = st.one_of(
    st.builds(
        NoteOn,
        st.integers(0, 3),
        *[st.floats(0, 9)] * 2,
        st.integers(0, 127),
        st.just(0.5),
        st.builds(_inflection, st.integers(0, 3), st.floats(-200, 200)),
    ),
    st.builds(_inflection, st.integers(0, 3), st.floats(-200, 200)),
    st.builds(NoteOff, st.integers(0, 3), *[st.floats(0, 9)] * 2),
    st.builds(
        PitchPoint,
        st.floats(0, 9),
        st.floats(0, 9),
        st.sampled_from([0.0, 440.0]),
        st.floats(-1200, 4800),
        st.just(-20.0),
        st.just(1.0),
    ),
)


@given(st.lists(_ANY))
def test_records_in_any_order_are_survived(records: list[Record]) -> None:
    """A display that lost some records goes on, and every note it tells of has a way."""
    state = MeterState()
    for record in records:
        finished = state.take(record)
        if finished is not None:
            assert len(finished.places) >= 1
            assert isinstance(record, NoteOff)
            assert finished.length_s == pytest.approx(record.time_s - finished.start_s)
