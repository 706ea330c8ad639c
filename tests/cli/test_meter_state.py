"""The meter's state: events folded into what there is to show."""

from __future__ import annotations

import librosa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import Inflection, NoteOff, NoteOn, PitchPoint, Status
from bridge.base.records import Record, Saying
from bridge.base.units import hz_above, midi_to_hz
from bridge.cli.meter_state import MeterState, blue_words, folded, note_name, root_name


def _inflection(note_id: int, bend: float, degree: str = "3", blueness: float = 0.0) -> Inflection:
    return Inflection(note_id, 1.0, 1.0, bend, degree, blueness, 0.0, 0.5, 0.5)


def test_a_note_is_told_when_it_ends() -> None:
    """Name, degrees, length, where a note was held, how blue and how far it went come back with its end."""
    state = MeterState()
    assert state.take(NoteOn(1, 1.0, 1.0, 71, 0.7, _inflection(1, -90.0, "b3", 0.5))) is None
    state.take(_inflection(1, -50.0, "b3", 1.0))
    state.take(_inflection(1, 4.0))
    finished = state.take(NoteOff(1, 1.75, 1.75))
    assert finished is not None
    sentence = " ".join(finished.sentence().split())
    assert sentence == ("1.000 s B4 degree b3 to 3, 0.75 s, held at -50 cents, half blue (from -90 to +4)")
    assert state.note is None
    assert state.finished == finished


def test_where_a_note_was_held_leaves_out_its_attack() -> None:
    """A reed that speaks flat and then stands still for a while was held where it stood, however long it took."""
    state = MeterState()
    state.take(NoteOn(1, 1.0, 1.0, 71, 0.7, _inflection(1, -60.0)))
    for step in range(200):
        time_s = 1.0 + 0.001 * step
        bend, blueness = (-60.0, 1.0) if time_s < 1.06 else (-2.0, 0.0)
        state.take(Inflection(1, time_s, time_s, bend, "3", blueness, 0.0, 0.5, 0.5))
    finished = state.take(NoteOff(1, 1.2, 1.2))
    assert finished is not None
    assert (finished.held_cents, finished.blueness) == (-2.0, 0.0)
    assert (finished.lowest_cents, finished.highest_cents) == (-60.0, -2.0)


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
    state.take(Status(1.0, armed=False, harp="Bb harp", lost=7))
    state.take(Saying("a cable"))
    assert (state.armed, state.harp, state.lost, state.saying) == (False, "Bb harp", 7, "a cable")


def test_the_trail_is_a_second_long() -> None:
    """Points older than a second are forgotten, silent ones leave no trail."""
    state = MeterState()
    for step in range(300):
        state.take(PitchPoint(step * 0.01, 0.0, 440.0 if step % 2 else 0.0, 350.0, -20.0, 1.0))
    assert [time for time, _ in state.trail] == pytest.approx([step * 0.01 for step in range(201, 300, 2)])


@given(st.integers(0, 127))
def test_note_names_are_those_of_librosa(note: int) -> None:
    """Names are in scientific pitch notation, as librosa writes it, sharps spelled as the trade's flats."""
    spelled = {"C#": "Db", "D#": "Eb", "G#": "Ab", "A#": "Bb"}
    name = librosa.midi_to_note(note, unicode=False)
    letter = name.rstrip("-0123456789")
    assert note_name(note) == spelled.get(letter, letter) + name[len(letter) :]


@pytest.mark.parametrize("a4", [436.0, 440.0, 444.0])
@given(root=st.integers(40, 80), cents=st.floats(-1200, 3600))
def test_the_root_is_named_from_any_point(a4: float, root: int, cents: float) -> None:
    """Pitch and cents together tell the root, at the harp's own A4."""
    point = PitchPoint(0.0, 0.0, hz_above(midi_to_hz(root, a4), cents), cents, -20.0, 1.0)
    assert note_name(root).rstrip("-0123456789") == root_name(point, a4)


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_more_blue_never_reads_as_less(one: float, other: float) -> None:
    """The words for blueness rise with it."""
    words = ("not blue", "a little blue", "half blue", "mostly blue", "fully blue")
    low, high = sorted((one, other))
    assert words.index(blue_words(low)) <= words.index(blue_words(high))


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
    """A display that lost some records goes on, and every note it tells of has bends in order."""
    state = MeterState()
    for record in records:
        finished = state.take(record)
        if finished is not None:
            assert finished.lowest_cents <= finished.highest_cents
