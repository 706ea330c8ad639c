"""Which pitch is played when two or more reeds sound."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import NoteOn, PitchFrame
from bridge.base.units import SILENCE_DB
from bridge.quantise.double_stops import DoubleStops, DoubleStopSettings
from quantise.playing import RATE, frame, only, quantiser, run

LOWER, UPPER = 392.0, 493.9
SINGLE = PitchFrame(1.0, 1.01, 440.0, -20.0, 0.95, 1.0, 0.5)
DOUBLE = replace(SINGLE, hz=UPPER, second_hz=LOWER, reeds=2, clean=0.1)


CHORD = replace(DOUBLE, reeds=3)
SILENCE = replace(SINGLE, hz=0.0, level_db=SILENCE_DB)


def sounded(filtered: DoubleStops, length_s: float, hz: float = SINGLE.hz) -> list[PitchFrame]:
    """What is made of one reed that sounds alone for so long, up to the double stop."""
    count = round(length_s * RATE)
    times = [SINGLE.time_s - (count - index) / RATE for index in range(count)]
    return [filtered.step(replace(SINGLE, hz=hz, time_s=at, ready_s=at + 0.01)) for at in times]


def stops(
    keep: Literal["lower", "upper", "hold", "mute"] = "lower", unclean: Literal["pass", "mark", "hold back"] = "mark"
) -> DoubleStops:
    """A filter with these settings."""
    return DoubleStops(DoubleStopSettings(keep=keep, unclean=unclean))


@pytest.mark.parametrize(("keep", "hz"), [("lower", LOWER), ("upper", UPPER), ("hold", 440.0), ("mute", 0.0)])
@pytest.mark.parametrize("swapped", [False, True])
def test_of_two_reeds_the_setting_says_which_is_played(
    keep: Literal["lower", "upper", "hold", "mute"], hz: float, swapped: bool
) -> None:
    """After a single note, two reeds give the lower, the upper, the note before or nothing, whichever was followed."""
    double = replace(DOUBLE, hz=LOWER, second_hz=UPPER) if swapped else DOUBLE
    filtered = stops(keep)
    assert {item.hz for item in sounded(filtered, 0.2)} == {SINGLE.hz}
    played = filtered.step(double)
    assert played.hz == hz
    assert (played.clean, played.reeds, played.second_hz) == (double.clean, 2, double.second_hz)


def test_the_lower_reed_is_played_where_the_follower_has_no_pitch_of_its_own() -> None:
    """A second pitch without a first is played, and counts as sure."""
    played = stops().step(replace(DOUBLE, hz=0.0, confidence=0.0))
    assert played.hz == LOWER
    assert played.confidence >= 0.9


def test_a_chord_holds_what_sounds() -> None:
    """Three reeds go on with the note before and are marked, whatever is named then."""
    filtered = stops()
    sounded(filtered, 0.2)
    for chord in (CHORD, replace(CHORD, hz=523.3), replace(CHORD, hz=0.0)):
        held = filtered.step(chord)
        assert (held.hz, held.reeds) == (440.0, 3)


def test_a_note_held_through_a_chord_still_bends() -> None:
    """While the note before is one of the two that are named, its own pitch goes on."""
    filtered = stops()
    sounded(filtered, 0.2)
    for hz in (440.0, 435.0, 430.0, 425.0):
        assert filtered.step(replace(CHORD, hz=550.0, second_hz=hz)).hz == hz


@pytest.mark.parametrize(("keep", "hz"), [("lower", LOWER), ("upper", UPPER), ("hold", 0.0), ("mute", 0.0)])
def test_a_chord_out_of_silence_is_taken_as_two_reeds_and_then_goes_on(
    keep: Literal["lower", "upper", "hold", "mute"], hz: float
) -> None:
    """Three reeds after silence play the reed that two would, and hold it when others are named."""
    filtered = stops(keep)
    sounded(filtered, 0.2)
    filtered.step(SILENCE)
    first = filtered.step(CHORD)
    assert (first.hz, first.reeds) == (hz, 3)
    later = replace(CHORD, hz=880.0, second_hz=660.0)
    assert filtered.step(later).hz == hz


def test_what_sounds_until_more_reeds_are_named_is_not_held() -> None:
    """A pitch that stood for 50 ms after a note, before three reeds were known, may be nobody's: the note goes on."""
    filtered = stops()
    sounded(filtered, 0.2)
    sounded(filtered, 0.05, hz=LOWER / 4.0)
    assert filtered.step(CHORD).hz == 440.0


def test_a_note_between_two_chords_is_held_by_the_second() -> None:
    """One reed alone for 0.2 s takes the place of what the chord before held."""
    filtered = stops()
    filtered.step(replace(CHORD, time_s=0.5))
    sounded(filtered, 0.2)
    assert filtered.step(CHORD).hz == 440.0


def test_nothing_sounded_before_so_nothing_is_held() -> None:
    """Two reeds that begin out of silence play nothing where the note before is to be held."""
    assert stops("hold").step(DOUBLE).hz == 0.0


def test_unclean_notes_pass_are_marked_or_are_held_back() -> None:
    """A single note of clean 0.2 is passed as clean, left as it is, or not played; one of 0.8 is always played."""
    unclean, cleaner = replace(SINGLE, clean=0.2), replace(SINGLE, clean=0.8)
    assert stops(unclean="pass").step(unclean) == SINGLE
    assert stops(unclean="mark").step(unclean) == unclean
    assert stops(unclean="hold back").step(unclean).hz == 0.0
    for choice in get_args(Literal["pass", "mark", "hold back"]):
        assert stops(unclean=choice).step(cleaner).hz == 440.0


@pytest.mark.parametrize("keep", ["lower", "upper", "hold"])
@pytest.mark.parametrize("unclean", [DOUBLE, CHORD])
def test_where_unclean_notes_are_held_back_so_is_every_double_stop(
    keep: Literal["lower", "upper", "hold"], unclean: PitchFrame
) -> None:
    """Whichever reed is kept, a double stop or chord is no clean note, and plays nothing."""
    filtered = stops(keep, "hold back")
    sounded(filtered, 0.2)
    assert filtered.step(unclean).hz == 0.0


def test_double_stop_on_the_upper_reed_goes_over_to_the_lower_as_a_note() -> None:
    """A note begun on the upper reed becomes one on the lower as soon as both are known to sound."""
    upper = [frame(index / RATE, 400.0, attack=index == 0) for index in range(60)]
    both = [replace(frame(index / RATE, 400.0), second_hz=ROOT, reeds=2, clean=0.1) for index in range(60, 300)]
    filtered = stops()
    notes = only(NoteOn, run(quantiser(), [filtered.step(item) for item in upper + both]))
    assert [note.midi_note for note in notes] == [71, 67]


ROOT = 440.0 * 2.0 ** (-2 / 12)


@given(
    st.lists(
        st.builds(
            PitchFrame,
            st.floats(0, 1),
            st.floats(1, 2),
            st.floats(0, 4000),
            st.floats(-120, 0),
            st.floats(0, 1),
            st.floats(0, 1),
            st.floats(0, 1),
            st.booleans(),
            second_hz=st.floats(0, 4000),
            reeds=st.integers(1, 3),
        ),
        max_size=30,
    ),
    st.sampled_from(["lower", "upper", "hold", "mute"]),
)
def test_no_pitch_is_made_up(given_frames: list[PitchFrame], keep: Literal["lower", "upper", "hold", "mute"]) -> None:
    """Whatever comes, a played pitch is none or one of those that came, and frames without a second reed stay."""
    filtered = stops(keep)
    heard = {0.0}
    for item in given_frames:
        heard |= {item.hz, item.second_hz}
        played = filtered.step(item)
        assert played.hz in heard
        if item.reeds == 1 and item.second_hz == 0.0:
            assert played == item
