"""The harp on the meter: large enough to be read from the stage floor, its place in the set, and its own third."""

from __future__ import annotations

import dataclasses
import math

import pytest

from bridge.base.events import Inflection, NoteOn, PitchPoint, Status
from bridge.cli.letters import huge, large
from bridge.cli.meter_view import draw
from bridge.harp.harp import make_harp
from bridge.harp.keys import KEYS
from bridge.takes.display_state import DisplayState
from bridge.wiring.meter_process import MeterSetup

HARPS = tuple(make_harp(key, 2, 440.0) for key in ("C", "A", "low-F#"))
SETUP = MeterSetup("play", 440.0, 400.0, 300.0, 350.0, 315.0, 365.0, None, 1, harps=HARPS)
#: ISO 9241-303 asks for letters at least 16 minutes of arc high (from memory).
LEAST_MINUTES = 16.0
#: The height of a screen of 13.3 inches across, 16 to 10, as in a small laptop, mm.
SCREEN_MM = 13.3 * 25.4 * 10.0 / math.hypot(16.0, 10.0)
DISTANCE_MM = 3000.0


#: As long as a harp is sought.
_NOT_KNOWN = Status(0.0, False, "harp not known yet", 0, 1, 400.0, 440.0, sought=True)


def _with(key: str, place: int = 0, *, straight: float = 400.0, armed: bool = True) -> DisplayState:
    """A state with that harp in hand."""
    state = DisplayState()
    state.take(Status(0.0, armed, f"{key} harp, cross position", 0, place, straight, 440.0))
    return state


def _lines(state: DisplayState, width: int, height: int, setup: MeterSetup = SETUP) -> list[str]:
    return [line.plain for line in draw(state, setup, width, height)]


def _rows_of(letters: list[str] | None, lines: list[str]) -> int:
    """How many rows of these letters stand at the top of the screen."""
    shown = zip(letters or [], lines, strict=False)
    return sum(line[1:].startswith(row.rstrip()) and bool(row.strip()) for row, line in shown)


@pytest.mark.parametrize(("width", "height"), [(80, 24), (80, 50), (40, 24), (40, 12)])
@pytest.mark.parametrize("key", [key.name for key in KEYS])
@pytest.mark.parametrize("armed", [True, False])
def test_the_harp_can_be_read_from_three_metres(width: int, height: int, key: str, *, armed: bool) -> None:
    """On a small laptop's screen its letters are as high as the standard asks, and whether it listens stays."""
    lines = _lines(_with(key, 2, armed=armed), width, height)
    rows = max(_rows_of(huge(key), lines), _rows_of(large(key), lines))
    minutes = math.degrees(math.atan(rows / height * SCREEN_MM / DISTANCE_MM)) * 60.0
    assert minutes >= LEAST_MINUTES
    assert ("NOT LISTENING" in "\n".join(lines)) is not armed
    assert max(map(len, lines)) <= width
    assert len(lines) <= height


@pytest.mark.parametrize("key", [key.name for key in KEYS])
def test_the_largest_letters_are_those_of_every_harp(key: str) -> None:
    """Six rows of one width, twice as wide as the large ones, unlike any other harp's."""
    rows, smaller = huge(key), large(key)
    assert rows is not None
    assert smaller is not None
    assert {len(row) for row in rows} == {2 * len(smaller[0])}
    assert sum(huge(other.name) == rows for other in KEYS) == 1


@pytest.mark.parametrize(("width", "height"), [(80, 24), (60, 20), (40, 24)])
def test_the_set_shows_which_harp_is_in_hand(width: int, height: int) -> None:
    """Its place is in brackets, not only in a colour; a harp from outside the set leaves them away."""
    for place, shown in ((1, "[1 C]  2 A  3 low-F#"), (2, "1 C  [2 A]  3 low-F#"), (0, "1 C  2 A  3 low-F#")):
        assert shown in "\n".join(_lines(_with("C", place), width, height))
    alone = "\n".join(_lines(_with("C", 1), width, height, dataclasses.replace(SETUP, harps=HARPS[:1])))
    assert "1 C" not in alone
    assert "n, p" not in alone


def test_the_keys_of_a_set_are_named() -> None:
    """Below the road stands what takes another harp."""
    assert "space: listen or stop listening    1 to 9, n, p: harp    q: end" in _lines(_with("A", 2), 80, 30)[-1]


@pytest.mark.parametrize(("width", "words"), [(100, "    t in time: tempo    q: end"), (80, "  t: tempo  q: end")])
def test_the_key_of_the_tempo_is_named_where_a_take_is_kept(width: int, words: str) -> None:
    """Without a take there is nothing that could keep the tempo."""
    assert _lines(_with("A", 2), width, 30, dataclasses.replace(SETUP, taps=True))[-1].endswith(words)
    assert "tempo" not in _lines(_with("A", 2), width, 30)[-1]


def test_the_road_ends_at_the_straight_third_of_the_harp_in_hand() -> None:
    """386 cents are straight on a just harp and not on an equal one, in words and by the place of the name."""
    signs = []
    for straight, words in ((386.3, "straight; not blue"), (400.0, "between blue and straight")):
        state = _with("C", 1, straight=straight)
        inflection = Inflection(1, 0.0, 0.0, -13.7, "3", 0.0, 1.0, 0.5, 0.5)
        state.take(PitchPoint(0.0, 0.0, 490.0, 386.3, -20.0, 1.0))
        state.take(NoteOn(1, 0.0, 0.0, 71, 0.7, inflection))
        lines = _lines(state, 80, 24)
        assert words in "\n".join(lines)
        (line,) = [line for line in lines if "minor" in line and "blue " in line and "straight" in line]
        signs.append((line.index("straight"), line.index("minor")))
    assert signs[0] != signs[1]


@pytest.mark.parametrize(
    ("width", "height", "said"),
    [
        (80, 24, "LISTENING: nothing goes out until the harp is known"),
        (60, 20, "LISTENING: nothing goes out until the harp is known"),
        (40, 16, "LISTENING: nothing goes out yet"),
    ],
)
def test_a_harp_that_is_sought_has_no_root_and_sends_nothing(width: int, height: int, said: str) -> None:
    """Nothing is told that only a known harp can tell, and nothing is said to go out; once it is known all is there."""
    state = DisplayState(HARPS[:1])
    state.take(dataclasses.replace(_NOT_KNOWN, armed=True))
    state.take(PitchPoint(0.0, 0.0, 392.0, 1200.0, -20.0, 1.0))
    lines = _lines(state, width, height, dataclasses.replace(SETUP, harps=HARPS[:1]))
    assert f" {said}" in lines
    assert " heard, not sent yet" in lines
    text = " ".join(lines)
    for untrue in ("notes go out", "cents", "degree", "above", "no note", "no third sounds", "breath"):
        assert untrue not in text
    assert max(map(len, lines)) <= width
    assert len(lines) <= height
    state.take(_NOT_KNOWN)
    assert " NOT LISTENING: nothing goes out" in _lines(state, width, height)
    state.take(Status(0.2, armed=True, harp="C harp, cross position", lost=0, place=1, straight=400.0, a4_hz=440.0))
    text = " ".join(_lines(state, width, height))
    assert "0 cents above G, 1 octave up" in text
    assert "nothing goes out" not in text
