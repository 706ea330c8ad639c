"""The hole on the meter: as tab and in words, on every screen that has room, and what gives way to it."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import Inflection, NoteOff, NoteOn, PitchPoint, Status
from bridge.base.records import Saying
from bridge.cli.meter_view import draw
from bridge.harp.harp import make_harp
from bridge.harp.tab import Convention
from bridge.takes.display_state import DisplayState
from bridge.wiring.meter_process import MeterSetup

HARPS = tuple(make_harp(key, 2, 440.0) for key in ("C", "A", "low-D"))
SETUP = MeterSetup("play", 440.0, 400.0, 300.0, 350.0, 315.0, 365.0, None, 1, harps=HARPS[:1])
SET = dataclasses.replace(SETUP, harps=HARPS)
SCREENS = [(80, 24), (60, 20), (40, 16)]


def _state(hz: float | None, convention: Convention = "signs") -> DisplayState:
    """A C harp in hand, and a note at ``hz`` that sounds on it."""
    state = DisplayState(HARPS, convention)
    state.take(Status(0.0, armed=True, harp="C harp, cross position", lost=0, place=1, straight=400.0, a4_hz=440.0))
    if hz is not None:
        for time_s in (0.0, 0.01):
            state.take(PitchPoint(time_s, time_s, hz, 340.0, -20.0, 1.0))
            if not time_s:
                state.take(NoteOn(1, 0.0, 0.0, 71, 0.7, Inflection(1, 0.0, 0.0, -60.0, "3", 1.0, -0.2, 0.5, 0.5)))
    return state


def _lines(state: DisplayState, width: int, height: int, setup: MeterSetup = SETUP) -> list[str]:
    return [line.plain.strip() for line in draw(state, setup, width, height)]


# C harp: OEIS A291810; bends and overblows: common practice, no source.
@pytest.mark.parametrize(
    ("hz", "said"),
    [
        (440.0, "-3'' draw 3, bent 2 semitones"),
        (392.0, "-2?  draw 2 or blow 3"),
        (932.33, "+6o  overblow 6"),
        (523.25, "+4   blow 4"),
    ],
)
@pytest.mark.parametrize(("width", "height"), SCREENS)
def test_the_hole_is_said_as_tab_and_in_words(width: int, height: int, hz: float, said: str) -> None:
    """A class reads which hole it is, how deep it is bent, and where it may be another."""
    assert said in _lines(_state(hz), width, height)


def test_the_tab_is_the_one_that_was_chosen() -> None:
    """Words stay words, the tab follows the setting."""
    assert "3↓'' draw 3, bent 2 semitones" in _lines(_state(440.0, "arrows"), 80, 24)
    assert "3D'' draw 3, bent 2 semitones" in _lines(_state(440.0, "letters"), 80, 24)


@pytest.mark.parametrize("setup", [SETUP, SET], ids=["one harp", "a set"])
@pytest.mark.parametrize(("width", "height"), SCREENS)
def test_a_small_screen_keeps_the_keys_and_the_hole(width: int, height: int, setup: MeterSetup) -> None:
    """How to stop listening and how to end stand at the bottom, every word whole, and nothing is wider."""
    lines = _lines(_state(440.0), width, height, setup)
    assert " ".join(lines).endswith("q: end")
    assert any(line.startswith("space: listen or") for line in lines)
    assert "-3'' draw 3, bent 2 semitones" in lines
    assert any(line.startswith("breath") for line in lines)
    assert max(map(len, lines)) <= width - 1
    assert len(lines) <= height


@pytest.mark.parametrize(
    ("width", "keys"), [(80, "space: listen or stop listening    q: end"), (40, "space: listen or not  q: end")]
)
def test_the_keys_are_said_in_one_line(width: int, keys: str) -> None:
    """Where the longer words find no room the shorter ones do."""
    assert _lines(_state(None), width, 16)[-1] == keys


@pytest.mark.parametrize(("width", "height"), [*SCREENS, (40, 12), (30, 24)])
def test_nothing_jumps_when_a_note_begins(width: int, height: int) -> None:
    """In silence the line of the hole is empty and not gone."""
    silent, sounding = (_lines(_state(hz), width, height) for hz in (None, 392.0))
    assert len(silent) == len(sounding)
    assert [row for row, line in enumerate(silent) if line.startswith(("breath", "space"))] == [
        row for row, line in enumerate(sounding) if line.startswith(("breath", "space"))
    ]


def test_the_last_note_keeps_its_tab() -> None:
    """When it has ended, what is said of it begins with note and hole."""
    state = _state(440.0)
    state.take(NoteOff(1, 0.5, 0.5))
    assert any(line.startswith("last: B4 -3'' degree 3, ") for line in _lines(state, 80, 24))


def test_without_harps_there_is_no_line_for_the_hole() -> None:
    """A meter that was given none has the room for something else."""
    plain = dataclasses.replace(SETUP, harps=())
    assert len(_lines(_state(None), 80, 24, plain)) == len(_lines(_state(None), 80, 24)) - 1


def test_two_lines_that_come_together_can_both_be_read() -> None:
    """The later one stands first; on a screen without room the earlier one gives way to the keys."""
    state = _state(392.0)
    state.take(Saying("The take stops here."))
    state.take(Saying("The sound input is back."))
    lines = _lines(state, 80, 40)
    assert lines.index("before that: The take stops here.") > lines.index("The sound input is back.")
    small = _lines(state, 80, 12)
    assert "The sound input is back." in small
    assert not any(line.startswith("before that") for line in small)


@pytest.mark.parametrize(
    ("width", "height", "words"),
    [
        (80, 24, "NO TAKE: it stopped after 754.3 s"),
        (40, 10, "NO TAKE: it stopped after 754.3 s"),
        (30, 6, "NO TAKE"),
        (40, 3, "NO TAKE: it stopped after 754.3 s"),
    ],
)
def test_a_take_that_is_kept_no_more_stays_on_the_screen(width: int, height: int, words: str) -> None:
    """Whatever is said after that; right below whether it listens, and before anything else that has no room."""
    state = _state(392.0)
    state.take_stopped_s = 754.3
    for number in range(5):
        state.take(Saying(f"The sound input is back, {number}."))
    lines = [line for line in _lines(state, width, height) if line]
    assert words in lines
    assert "LISTENING" in lines[lines.index(words) - 1] or "harp" in lines[lines.index(words) - 1]
    state.take_stopped_s = 0.0
    assert any(line in ("NO TAKE: nothing is kept", "NO TAKE") for line in _lines(state, width, height))
    state.take_stopped_s = None
    assert not any("NO TAKE" in line for line in _lines(state, width, height))


@given(st.integers(1, 100), st.integers(1, 40), st.floats(60.0, 4000.0), st.booleans())
def test_it_fits_any_screen(width: int, height: int, hz: float, trouble: bool) -> None:
    """Whatever sounds, no line is too long and none too many, and from 24 columns on it says whether it listens."""
    state = _state(hz)
    if trouble:
        state.take_stopped_s = 12345.6
        state.take(Saying("The MIDI port went away. It is opened again as soon as it is back."))
    lines = draw(state, SET, width, height)
    assert len(lines) <= height
    assert all(len(line.plain) <= max(width, 2) for line in lines)
    if width >= 26 and height >= 2:
        assert any("LISTENING" in line.plain for line in lines)
