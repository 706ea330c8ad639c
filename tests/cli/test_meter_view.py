"""What the meter looks like: words for everything, a mark on the road, and room on small screens."""

from __future__ import annotations

import dataclasses
import io
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from bridge.base.events import Inflection, NoteOff, NoteOn, PitchPoint, Status
from bridge.base.records import Saying
from bridge.cli.letters import huge, large
from bridge.cli.meter_view import draw
from bridge.cli.road import column, draw_road, place_words
from bridge.harp.keys import KEYS
from bridge.quantise.third import ThirdZone, blueness
from bridge.takes.display_state import DisplayState
from bridge.wiring.meter_process import MeterSetup

SETUP = MeterSetup("play", 440.0, 400.0, 300.0, 350.0, 315.0, 365.0, None, 1)
_MARK = "◆"


def _playing(cents: float, degree: str = "b3", blueness: float = 1.0, lean: float = 0.0) -> DisplayState:
    """A state in which a note sounds that far above a G."""
    state = DisplayState()
    inflection = Inflection(1, 0.0, 0.0, cents - 400.0, degree, blueness, lean, 0.5, 0.5)
    state.take(Status(0.0, armed=True, harp="C harp, cross position", lost=0, place=0, straight=400.0, a4_hz=440.0))
    state.take(PitchPoint(0.0, 0.0, 392.0 * 2 ** (cents / 1200), cents, -20.0, 1.0))
    state.take(NoteOn(1, 0.0, 0.0, 71, 0.7, inflection))
    return state


def _text(state: DisplayState, width: int = 80, height: int = 24) -> str:
    return "\n".join(line.plain for line in draw(state, SETUP, width, height))


def test_everything_asked_for_is_on_the_screen() -> None:
    """Note, degree, cents, place in the third, how blue, breath, harp, armed or not: in words; losses only if any."""
    text = _text(_playing(340.0, lean=-0.2))
    for words in ("B4", "degree b3", "340 cents above G", "in the blue zone, towards minor", "fully blue, 100%"):
        assert words in text
    for words in ("breath", "50%", "C harp, cross position", "LISTENING: notes go out", "space:"):
        assert words in text
    assert "lost" not in text


def test_a_pitch_just_under_the_root_is_below_it() -> None:
    """Fourteen cents flat of the root is no octave down and no seventh."""
    text = _text(_playing(-14.0, degree="1"))
    assert "14 cents below G" in text
    assert "octave" not in text
    assert "14 cents below G, 1 octave up" in _text(_playing(1186.0, degree="1"))


def test_an_old_pitch_does_not_stay_on_the_screen() -> None:
    """When no sound comes in any more, the last pitch and the mark go, and the screen says so."""
    state = _playing(340.0)
    state.stalled = True
    text = _text(state)
    assert "no sound comes in" in text
    assert "cents above" not in text
    assert _MARK not in text


@pytest.mark.parametrize(("width", "height"), [(44, 18), (40, 10), (30, 10)])
@pytest.mark.parametrize("armed", [True, False])
def test_a_small_screen_keeps_what_a_class_must_see(width: int, height: int, *, armed: bool) -> None:
    """In a large font note, cents, road with its mark, place and listening or not stay, every word of them whole."""
    state = _playing(340.0, lean=-0.2)
    state.take(Status(0.0, armed=armed, harp="C harp, cross position", lost=0, place=0, straight=400.0, a4_hz=440.0))
    text = _text(state, width, height)
    words = " ".join(text.split())
    assert "LISTENING" in words
    assert ("NOT LISTENING" in words) is not armed
    for said in (
        "B4 degree b3 bend -60 cents",
        "340 cents above G",
        "in the blue zone, towards minor; fully blue, 100%",
    ):
        assert said in words
    assert text.count(_MARK) == 1
    assert "…" not in text


def test_a_note_that_has_glided_on_is_named_by_where_it_is_now() -> None:
    """Begun as the third, B4, and now at the fourth: what sounds is named, and what it was begun as."""
    state = _playing(390.0, degree="3")
    state.take(Inflection(1, 0.1, 0.1, 90.0, "4", 0.0, 0.0, 0.5, 0.5))
    assert "C5   degree 4   bend +90 cents from B4" in _text(state)


def test_not_listening_is_said_in_words() -> None:
    """Disarmed, the screen says so, and that what is heard goes nowhere."""
    state = _playing(340.0)
    state.note = state.inflection = None
    state.take(Status(0.0, armed=False, harp="C harp", lost=0, place=0, straight=400.0, a4_hz=440.0))
    assert "NOT LISTENING: nothing goes out" in _text(state)
    assert "heard, not sent" in _text(state)


def test_where_notes_go_is_said_where_there_is_room_and_nowhere_always() -> None:
    """A screen that says that notes go out while none can is worse than none."""
    state = _playing(340.0)

    def words(goes_to: str, width: int) -> str:
        lines = draw(state, dataclasses.replace(SETUP, goes_to=goes_to), width, 24)
        return " ".join(" ".join(line.plain for line in lines).split())

    assert "LISTENING: notes go out to MIDI fluid and OSC 127.0.0.1:9000" in words(
        "MIDI fluid and OSC 127.0.0.1:9000", 100
    )
    assert "LISTENING: notes go out" in words("MIDI fluid and OSC 127.0.0.1:9000", 60)
    for width in (60, 80):
        assert "LISTENING: nothing is sent anywhere" in words("", width)


def test_losses_and_sayings_are_shown() -> None:
    """What was lost, what this display missed, and the bridge's own words appear."""
    state = _playing(340.0)
    state.take(Status(0.0, armed=True, harp="C harp", lost=12, place=0, straight=400.0, a4_hz=440.0))
    state.take(Saying("The MIDI port went away."))
    state.unseen = 5
    text = _text(state)
    assert "lost: 12, not shown here: 5" in text
    assert "The MIDI port went away." in text


def test_how_soon_it_answers_is_shown_where_a_sound_card_is_played_into() -> None:
    """Half of the blocks, 99 of 100, and how many were late; nothing of it where nothing was timed."""
    state = _playing(340.0)
    assert "late" not in _text(state)
    known = Status(0.0, armed=True, harp="C harp", lost=0, place=0, straight=400.0, a4_hz=440.0)
    state.take(dataclasses.replace(known, sent_s=0.0009, sent_99_s=0.0021, late=3))
    assert "sent 0.9 ms after the sound card, 99 of 100 within 2.1; late: 3" in _text(state)


@pytest.mark.parametrize("cents", [230.0, 300.0, 340.0, 400.0, 435.0])
def test_one_mark_travels_the_road(cents: float) -> None:
    """A third in any octave puts exactly one mark on the road, further right the higher it is."""
    lines = _text(_playing(cents + 1200.0)).splitlines()
    (road,) = [line for line in lines if _MARK in line]
    assert road.count(_MARK) == 1
    assert road.index(_MARK) == 1 + column(cents, SETUP, 78)


def test_no_third_no_mark() -> None:
    """Another degree and silence leave the road empty, and the screen says that no third sounds."""
    for state in (_playing(700.0, degree="5", blueness=0.0), DisplayState()):
        text = _text(state)
        assert _MARK not in text
        assert "no third sounds" in text
    assert "silence" in _text(DisplayState())
    assert "a sound, but no harp" in _text(DisplayState(point=PitchPoint(0.1, 0.1, 0.0, 0.0, -20.0, 0.0)))


@given(st.floats(225.0, 440.0), st.floats(225.0, 440.0), st.integers(24, 200))
def test_the_mark_never_goes_the_wrong_way(one: float, other: float, width: int) -> None:
    """A higher pitch is never further left, and the mark stays on the road."""
    low, high = sorted((one, other))
    assert 0 <= column(low, SETUP, width) <= column(high, SETUP, width) < width


@given(st.floats(225.0, 440.0), st.integers(24, 120), st.lists(st.floats(0.0, 1200.0), max_size=20))
def test_the_mark_lies_in_the_zone_when_the_words_say_so(cents: float, width: int, trail: list[float]) -> None:
    """Words and picture agree to the column about the blue zone."""
    road = draw_road(cents, trail, SETUP, width)[2].plain
    inside = "in the blue zone" in place_words(cents, 0.0, SETUP)
    columns = (column(SETUP.zone_low, SETUP, width), column(SETUP.zone_high, SETUP, width))
    assert len(road) == width
    assert not inside or columns[0] <= road.index(_MARK) <= columns[1]


@pytest.mark.parametrize("width", [58, 78, 120])
def test_the_road_fades_as_the_blueness_does(width: int) -> None:
    """What the mark stands on and how blue it is said to be agree: dense in the zone, lighter outside, then nothing."""
    zone = ThirdZone(SETUP.straight, SETUP.minor, SETUP.target, SETUP.zone_low, SETUP.zone_high)
    road = draw_road(None, [], SETUP, width)[2].plain
    cents_a_column = 215.0 / (width - 1)
    for place, surface in enumerate(road):
        cents = 225.0 + cents_a_column * place
        blue = [blueness(cents + away * cents_a_column, zone) for away in (-0.51, 0.0, 0.51)]
        least, most = {"▓": (0.95, 1.0), "▒": (0.5, 1.0), "░": (0.05, 0.5), " ": (0.0, 0.05)}[surface]
        assert max(blue) >= least
        assert min(blue) <= most
    assert re.fullmatch(r" +░+▒+▓+▒+░+ +", road)


@pytest.mark.parametrize(("width", "height"), [(80, 24), (60, 20), (30, 24)])
def test_nothing_jumps_when_a_line_gets_longer(width: int, height: int) -> None:
    """The longest line of the last note and the shortest leave everything else where it is, every word whole."""
    shown = []
    for bends in ([0.0], [-100.0, -100.0, 60.0, 60.0, -100.0, -100.0]):
        state = _playing(700.0, degree="5", blueness=0.0)
        for step, bend in enumerate(bends, start=1):
            time_s = 0.2 * step
            state.take(Inflection(1, time_s, time_s, bend, "b3", 0.5, -0.1, 0.5, 0.5))
        state.take(NoteOff(1, 12.0, 12.0))
        shown.append(_text(state, width, height).splitlines())
    short, long = shown
    assert len(short) == len(long)
    start = next((row for row, line in enumerate(long) if "last:" in line), len(long))
    end = start + 1
    while end < len(long) and long[end].strip():
        end += 1
    assert [*short[:start], *short[end:]] == [*long[:start], *long[end:]]
    said = " ".join(" ".join(long[start:end]).split())
    assert not said or said.endswith("-100 rising to +60 falling to -100 cents, at most half blue")


def test_the_cautions_are_those_it_is_given() -> None:
    """With room for them the cautions of this performance are on the screen, and none where there are none."""
    setup = dataclasses.replace(SETUP, cautions=("Mind this.",))
    assert "Mind this." in "\n".join(line.plain for line in draw(_playing(340.0), setup, 80, 24))
    assert _text(_playing(340.0)).rstrip().endswith("q: end")


@pytest.mark.parametrize(
    ("cents", "words"),
    [
        (280.0, "below the minor third"),
        (300.0, "at the minor third"),
        (311.0, "between minor and blue"),
        (319.0, "in the blue zone, towards minor"),
        (350.0, "in the blue zone, on the target"),
        (362.0, "in the blue zone, towards straight"),
        (380.0, "between blue and straight"),
        (398.0, "straight"),
        (420.0, "above straight"),
    ],
)
def test_the_place_is_said_in_words(cents: float, words: str) -> None:
    """Each stretch of the third has its words."""
    assert place_words(cents, cents - 350.0, SETUP) == words


@given(st.integers(1, 200), st.integers(1, 60), st.sampled_from([0.0, 320.0, 1600.0, -900.0, 2900.0]))
def test_it_fits_any_screen(width: int, height: int, cents: float) -> None:
    """On any screen the lines fit, and the most urgent one, whether the bridge listens, is there from 24 columns on."""
    state = _playing(cents)
    state.take(Saying("A long line about something that happened to a cable somewhere behind the stage. " * 2))
    lines = draw(state, SETUP, width, height)
    assert len(lines) <= height
    assert all(len(line.plain) <= max(width, 2) for line in lines)
    if width >= 26 and height >= 2:
        assert any("LISTENING" in line.plain for line in lines)


@pytest.mark.parametrize("key", [key.name for key in KEYS])
def test_every_harp_has_large_letters(key: str) -> None:
    """The name of every harp is drawn large, in three rows of one width, unlike any other's."""
    rows = large(key)
    assert rows is not None
    assert len({len(row) for row in rows}) == 1
    assert sum(large(other.name) == rows for other in KEYS) == 1


def test_a_name_without_large_letters_is_still_shown() -> None:
    """A harp whose name has other letters is shown in ordinary ones."""
    state = _playing(340.0)
    state.take(Status(0.0, armed=True, harp="Xyz harp", lost=0, place=0, straight=400.0, a4_hz=440.0))
    assert large("Xyz") is huge("Xyz") is None
    assert "Xyz harp" in _text(state)


def test_without_colour_nothing_is_lost() -> None:
    """NO_COLOR leaves every letter as it was and sets no colour (no-color.org: no ANSI colour codes)."""
    shown = {}
    for no_color in (False, True):
        console = Console(file=io.StringIO(), force_terminal=True, no_color=no_color, width=80, color_system="standard")
        with console.capture() as capture:
            console.print(*draw(_playing(340.0), SETUP, 80, 24), sep="\n")
        shown[no_color] = capture.get()
    assert "\x1b[34m" in shown[False]
    assert not any(f"\x1b[{code}m" in shown[True] for code in range(30, 48))
    assert _MARK in shown[True]
    assert "░" in shown[True]
