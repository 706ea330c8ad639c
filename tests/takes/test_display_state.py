"""The state of a display: events folded into what there is to show."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import Inflection, NoteOff, NoteOn, PitchPoint, Status
from bridge.base.records import Record, Saying
from bridge.base.units import hz_above, midi_to_hz
from bridge.harp.harp import make_harp
from bridge.harp.tab import tab
from bridge.takes.display_state import DisplayState, folded, root_midi
from bridge.wiring.harps import read_layout


def _inflection(note_id: int, bend: float, degree: str = "3", blueness: float = 0.0) -> Inflection:
    return Inflection(note_id, 1.0, 1.0, bend, degree, blueness, 0.0, 0.5, 0.5)


def test_a_note_is_told_when_it_ends() -> None:
    """Its name, degree and length come back with its end, and stay to be shown."""
    state = DisplayState()
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
    assert DisplayState().heard is None
    assert DisplayState(point=point).heard == point
    assert DisplayState(point=point, stalled=True).heard is None
    assert DisplayState(point=silence).heard is None


def test_a_display_that_missed_the_beginning_says_nothing() -> None:
    """The end of a note that was not seen to begin is passed over."""
    state = DisplayState()
    assert state.take(NoteOff(3, 1.0, 1.0)) is None
    state.take(NoteOn(4, 1.0, 1.0, 60, 0.5, _inflection(4, 0.0)))
    assert state.take(NoteOff(3, 2.0, 2.0)) is None
    assert state.note is not None


def test_status_and_sayings_are_kept() -> None:
    """Armed or not, the harp, what was lost and the last thing said are there to show."""
    state = DisplayState()
    state.take(Status(1.0, armed=False, harp="Bb harp", lost=7, place=2, straight=386.3, a4_hz=443.0))
    state.take(Saying("a cable"))
    assert (state.armed, state.harp, state.lost, state.saying) == (False, "Bb harp", 7, "a cable")


def test_the_saying_before_the_last_is_kept_too() -> None:
    """Two that come together can both be read; one that is said again does not push the other out."""
    state = DisplayState()
    for text in ("the take stops", "a cable", "a cable"):
        state.take(Saying(text))
    assert (state.saying, state.said_before) == ("a cable", "the take stops")


def test_the_trail_is_a_second_long() -> None:
    """Points older than a second are forgotten, silent ones leave no trail."""
    state = DisplayState()
    for step in range(300):
        state.take(PitchPoint(step * 0.01, 0.0, 440.0 if step % 2 else 0.0, 350.0, -20.0, 1.0))
    assert [time for time, _ in state.trail] == pytest.approx([step * 0.01 for step in range(201, 300, 2)])


@pytest.mark.parametrize("a4", [436.0, 440.0, 444.0])
@given(root=st.integers(40, 80), cents=st.floats(-1200, 3600))
def test_the_root_is_known_from_any_point(a4: float, root: int, cents: float) -> None:
    """Pitch and cents together tell the root, at the harp's own A4."""
    point = PitchPoint(0.0, 0.0, hz_above(midi_to_hz(root, a4), cents), cents, -20.0, 1.0)
    assert root_midi(point, a4) == root


def _status(harp: str, place: int) -> Status:
    return Status(0.0, armed=True, harp=harp, lost=0, place=place, straight=400.0, a4_hz=440.0)


def _sound(state: DisplayState, start_s: float, hz: float) -> None:
    """Half a second of a note at ``hz`` that goes on sounding."""
    cents = 1200.0 * math.log2(hz / 392.0)
    state.take(PitchPoint(start_s, start_s, hz, cents, -20.0, 1.0))
    state.take(NoteOn(1, start_s, start_s, 71, 0.7, _inflection(1, 0.0)))
    for step in range(1, 50):
        time_s = start_s + 0.01 * step
        state.take(PitchPoint(time_s, time_s, hz, cents, -20.0, 1.0))
        state.take(replace(_inflection(1, 0.0), time_s=time_s))


def _tab(state: DisplayState) -> str:
    """The reed of the note that sounds; nothing where none is told."""
    return "" if state.reading is None else tab(state.reading)


# E4 is blow 2 of a C harp and draw 1 of a D harp; D5 draw 4 of a C harp and blow 4 of a D harp; G4 draw 2 and blow 3
# of a C harp (OEIS A291810 and transposed).
@pytest.mark.parametrize(
    ("harp", "place", "hz", "word"),
    [
        ("C harp, cross position", 1, 587.33, "-4"),
        ("D harp, cross position", 2, 587.33, "+4"),
        ("D harp, cross position", 0, 587.33, "+4"),
        ("C harp, cross position", 1, 392.0, "-2?"),
    ],
)
def test_the_reed_is_told_by_the_harp_in_hand(harp: str, place: int, hz: float, word: str) -> None:
    """Of the set by its place, outside it by its key; while the note sounds and when it has ended."""
    state = DisplayState((make_harp("C", 2, 440.0), make_harp("D", 2, 440.0)))
    state.take(_status(harp, place))
    assert _tab(state) == ""
    _sound(state, 1.0, hz)
    assert _tab(state) == word
    finished = state.take(NoteOff(1, 1.5, 1.5))
    assert finished is not None
    assert finished.tab == word
    assert _tab(state) == ""


def test_a_harp_at_another_a4_or_not_known_yet_is_no_accident() -> None:
    """At 430 Hz C#5 of concert pitch is nearer to D5 than at 440; of a harp that nobody knows yet no reed is told."""
    state = DisplayState((make_harp("C", 2, 440.0),))
    state.take(replace(_status("C harp, cross position", 1), a4_hz=430.0))
    _sound(state, 1.0, 565.0)
    assert state.reading is not None
    # 9 semitones down from A4: C4 of this harp lies at 430 * 2 ** (-9 / 12) = 255.68 Hz, D5 14 semitones above it.
    assert state.reading.bend_cents == pytest.approx(1200.0 * math.log2(565.0 / (255.68 * 2 ** (14 / 12))), abs=0.1)
    state.take(NoteOff(1, 1.5, 1.5))
    state.take(replace(_status("harp not known yet", 1), sought=True))
    assert state.sought
    _sound(state, 1.6, 587.33)
    assert _tab(state) == ""


# E4 is blow 2 of a C harp, and no reed of one in natural minor, whose blow 2 is Eb4 (common practice, no source).
@pytest.mark.parametrize(("place", "a4_hz"), [(2, 440.0), (2, 441.0), (0, 441.0)])
def test_the_reed_is_told_by_the_layout_of_the_harp_in_hand(place: int, a4_hz: float) -> None:
    """In a set of several layouts it is that of its place, or outside the set that of its key, at any A4."""
    harps = (make_harp("A", 2, 440.0, read_layout("natural-minor")), make_harp("C", 2, 440.0))
    state = DisplayState(harps)
    state.take(replace(_status("C harp, cross position", place), a4_hz=a4_hz))
    _sound(state, 1.0, 329.63)
    assert _tab(state) == "+2"


def test_the_note_before_counts_for_the_reed() -> None:
    """After blow 2, G4 is blow 3 rather than draw 2, from its first moment on; a status in between changes nothing."""
    state = DisplayState((make_harp("C", 2, 440.0),))
    state.take(_status("C harp, cross position", 1))
    _sound(state, 1.0, 329.63)
    state.take(NoteOff(1, 1.5, 1.5))
    state.take(_status("C harp, cross position", 1))
    _sound(state, 1.6, 392.0)
    assert _tab(state) == "+3?"


def test_a_vibrato_leaves_the_reed_where_it_is() -> None:
    """Forty cents at 6 Hz around draw 3 bent by 75 do not turn it straight and back (rates: common practice)."""
    state = DisplayState((make_harp("C", 2, 440.0),))
    state.take(PitchPoint(0.0, 0.0, 473.0, 325.0, -20.0, 1.0))
    state.take(NoteOn(1, 0.0, 0.0, 71, 0.7, _inflection(1, -75.0)))
    told = set()
    for step in range(250):
        time_s = 0.004 * step
        cents = 325.0 + 40.0 * math.sin(2 * math.pi * 6.0 * time_s)
        state.take(PitchPoint(time_s, time_s, 392.0 * 2 ** (cents / 1200), cents, -20.0, 1.0))
        if time_s > 0.25 and state.reading is not None:
            told.add(state.reading.kind)
    assert told == {"bend"}


def test_without_a_harp_no_reed_is_told() -> None:
    """A meter that was given no harps says nothing of holes."""
    state = DisplayState()
    state.take(_status("C harp, cross position", 1))
    _sound(state, 1.0, 587.33)
    assert _tab(state) == ""
    finished = state.take(NoteOff(1, 1.5, 1.5))
    assert finished is not None
    assert finished.tab == ""


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
    state = DisplayState()
    for record in records:
        finished = state.take(record)
        if finished is not None:
            assert len(finished.places) >= 1
            assert isinstance(record, NoteOff)
            assert finished.length_s == pytest.approx(max(0.0, record.time_s - finished.start_s))
