"""What the board shows of what was played."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.records import Saying
from bridge.base.units import cents_between
from bridge.web.board_state import BoardState
from web.board_room import inflection, note, setup, silence, sound, status


@pytest.fixture
def state(tmp_path: Path) -> BoardState:
    """A board for a C harp in cross position."""
    return BoardState(setup(tmp_path / "page"))


def test_before_anything_is_played_it_listens(state: BoardState) -> None:
    """No pitch, no note, and a word for why."""
    state.take(silence(0.1))
    now = state.now()
    assert (now["cents"], now["note"], now["words"]) == (None, None, "listening")


def test_a_note_is_told_by_number_name_and_words(state: BoardState) -> None:
    """The third over G is B4 of 400 cents (draw 3 on a C harp: OEIS A291810); 354 lies 46 under it, in the zone."""
    state.take(sound(1.0, 354.0))
    for record in note(1, 1.0, 1.3, 354.0)[:-1]:
        state.take(record)
    state.take(inflection(1, 1.3, 354.0, blueness=1.0))
    now = state.now()
    assert now["cents"] == pytest.approx(354.0, abs=0.06)
    assert (now["note"]["name"], now["note"]["degree"], now["note"]["midi_note"]) == ("B4", "3", 71)
    assert now["note"]["tab"] == "-3"
    assert now["words"] == "third, 46 cents under straight, blue"
    assert now["steady"] == pytest.approx(354.0, abs=0.06)
    assert now["shaky"] is False


@given(cents=st.floats(-1500.0, 3000.0))
def test_cents_and_octave_give_the_curve_back(tmp_path_factory: pytest.TempPathFactory, cents: float) -> None:
    """What the page is told is what ``curve.csv`` says, within a tenth of a cent."""
    state = BoardState(setup(tmp_path_factory.mktemp("board") / "page"))
    state.take(sound(1.0, cents))
    now = state.now()
    assert now["cents"] + 1200.0 * now["octave"] == pytest.approx(cents, abs=0.051)
    assert -50.05 <= now["cents"] <= 1150.05


def test_an_ended_note_says_where_it_began_and_settled(state: BoardState) -> None:
    """Begun at 310 and let go upwards to 390 within a tenth of a second, then held."""
    told = []
    whole = [*note(1, 1.0, 1.1, 310.0)[:-1], *note(1, 1.1, 1.6, 390.0)[2:]]
    for record in whole:
        told += state.take(record)
    (ended,) = told
    assert ended["is"] == "ended"
    assert ended["note"]["begin"] == pytest.approx(310.0, abs=0.1)
    assert ended["note"]["settle"] == pytest.approx(390.0, abs=0.1)
    assert ended["note"]["under_straight"] == pytest.approx(10.0, abs=0.1)
    assert ended["note"]["low"] <= 311.0
    assert ended["note"]["high"] >= 389.0
    assert (ended["note"]["id"], ended["note"]["midi_note"], ended["note"]["tab"]) == (1, 71, "-3")
    # By the zones of the map, as what is said while it sounds.
    began, settled = "third, 90 under, between minor and blue", "third, 10 under, between blue and straight"
    assert ended["note"]["words"] == f"B4 -3, 0.6 s: begun {began}; {settled}"


def test_a_rest_of_a_second_ends_the_phrase(state: BoardState) -> None:
    """Both notes and the whole trail come once; a shorter rest ends nothing."""
    told = []
    records = [
        *note(1, 1.0, 1.3, 400.0),
        silence(1.9),
        *note(2, 2.0, 2.3, 350.0),
        silence(3.2),
        silence(3.4),
        silence(9.0),
    ]
    for record in records:
        told += state.take(record)
    assert [message["is"] for message in told] == ["ended", "ended", "phrase"]
    phrase = told[-1]
    assert [ended["id"] for ended in phrase["notes"]] == [1, 2]
    assert phrase["trail"][0][0] == pytest.approx(1.0, abs=0.01)
    assert phrase["trail"][-1][0] == pytest.approx(2.3, abs=0.01)


def test_a_harp_that_changes_is_told_once(state: BoardState) -> None:
    """A, whose root in cross position is E4, 329.63 Hz (equal temperament, computed); the third too."""
    state.take(status())
    told = state.take(status(harp="A harp, cross position", place=0, straight=386.3))
    assert state.take(status(harp="A harp, cross position", place=0, straight=386.3)) == []
    (message,) = told
    assert message["is"] == "setup"
    assert message["setup"]["harp"] == "A"
    assert message["setup"]["root"] == "E"
    assert cents_between(message["setup"]["root_hz"], 440.0 * 2.0 ** (-5.0 / 12.0)) == pytest.approx(0.0, abs=0.01)
    assert message["setup"]["straight"] == 386.3


def test_the_zones_of_the_map_follow_the_harp(state: BoardState) -> None:
    """Those around the straight third move with it; the map begins 60 cents below minor and ends 45 above straight."""
    (message,) = state.take(status(harp="A harp, cross position", place=0, straight=386.3))
    names = ["below minor", "minor", "between minor and blue", "blue", "between blue and straight", "straight"]
    zones = message["setup"]["zones"]
    assert [name for name, *_ in zones] == [*names, "above straight"]
    assert zones[0][2:] == [240.0, 292.0]
    assert [edge for _, _, *edges in zones[-2:] for edge in edges] == pytest.approx([378.3, 394.3, 394.3, 431.3])


def test_while_the_harp_is_sought_there_is_no_root(state: BoardState) -> None:
    """Nothing that is counted from a root is called certain."""
    (message,) = state.take(status(harp="harp not known yet", sought=True))
    assert message["setup"]["harp"] is message["setup"]["root_hz"] is None
    state.take(sound(1.0, 300.0))
    assert state.now()["words"] == "heard, while the harp is sought"


def test_what_is_not_heard_is_said(state: BoardState) -> None:
    """Not listening, no sound at all, and a sound that is no harp have words of their own."""
    state.take(status(armed=False))
    assert (state.now()["words"], state.now()["armed"]) == ("not listening", False)
    state.take(status())
    state.take(sound(1.0, 300.0))
    state.mind(stalled=True, unseen=3)
    now = state.now()
    assert (now["words"], now["cents"], now["lost"]) == ("no sound comes in", None, 3)


def test_what_is_heard_while_it_does_not_listen_is_not_shown(state: BoardState) -> None:
    """No pitch, no note, no breath, no trail and no phrase, steadily; and as before once it listens again."""
    state.take(sound(1.0, 354.0))
    for record in note(1, 1.0, 1.3, 354.0)[:-1]:
        state.take(record)
    state.take(status(armed=False))
    end, told = state.trail.end, []
    for step in range(3):
        for record in (*note(2, 2.0 + step, 2.5 + step, 354.0)[:-1], sound(2.6 + step, 354.0)):
            told += state.take(record)
        now = state.now()
        assert now["words"] == "not listening"
        assert now["cents"] is now["hz"] is now["note"] is now["steady"] is None
        assert now["breath"] == now["clean"] == now["blueness"] == 0.0
    assert (state.trail.end, told) == (end, [])
    state.take(status())
    state.take(sound(9.0, 354.0))
    assert state.now()["cents"] == pytest.approx(354.0, abs=0.06)


def test_what_is_heard_while_a_tone_sounds_is_not_shown(state: BoardState) -> None:
    """It is the loudspeaker's."""
    state.paused = True
    state.take(sound(1.0, 354.0))
    now = state.now()
    assert (now["cents"], now["words"], state.trail.end) == (None, "a tone sounds", 0)


def test_sayings_are_handed_on(state: BoardState) -> None:
    """A line for the player is one for the board."""
    assert state.take(Saying("The sound input is back.")) == [{"is": "saying", "text": "The sound input is back."}]


def test_a_long_note_and_a_long_phrase_take_no_more_room(state: BoardState) -> None:
    """A minute without a breath makes a message no longer than a second's would."""
    told = []
    for record in [*note(1, 0.0, 60.0, 380.0), silence(62.0)]:
        told += state.take(record)
    assert len(told[-1]["trail"]) <= 600
    assert told[-1]["trail"][-1][0] > 59.0
    assert len(state.trail.since(0, 10**6)) <= 4096
