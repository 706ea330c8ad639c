"""An exercise on the board: begun, counted in, heard through the classroom's chain, judged, kept and told.

The truth is that of the students of ``sounds/students.py``, who play their fault to a known beat.
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from bridge.base.commands import Arm, Begin, HearClicks, Quiet
from bridge.base.handoff import HandOff
from bridge.base.records import RECORD_BYTES, ClicksBack, Record
from bridge.study.attempt_words import SILENT
from bridge.study.exercises import COUNT_IN
from bridge.web.hub import STAMP, Hub
from bridge.web.messages import Do, DrillOff, DrillOn, Seen
from sounds.students import TEMPO
from web.board_room import setup, status
from web.drill_desk import ASKED_S, BEGAN_S, DELAY_S, IN_S, RELEASE, SAID_S, Desk, events_of


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """A hub whose players are kept in ``tmp_path``."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    clock = [BEGAN_S]
    feed, commands = HandOff(STAMP.size + RECORD_BYTES, 8192), HandOff(RECORD_BYTES, 64)
    return Desk(Hub(setup(tmp_path / "page"), feed, commands, lambda: clock[0]), feed, commands, clock)


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        ("", "Next: All of it was as near as it should be"),
        ("deep", "Next: Begin less deep"),
        ("unreleased", "Next: Let go of the bend while it sounds, over one beat"),
        ("two holes", "Next: Narrow your lips until one hole sounds alone"),
        ("late", "Next: Start sooner: it came 1"),
    ],
)
def test_every_page_is_told_what_was_played(desk: Desk, fault: str, said: str) -> None:
    """One thing to try next, in the terminal's words; the beat is that of the clicks, whatever the page says."""
    marks = desk.play(RELEASE, fault)
    assert marks["next"].startswith(said)
    late_ms = int(marks["beat"].split()[3])
    assert late_ms == pytest.approx(1000.0 * DELAY_S, abs=5.0)
    assert marks["beat"] == f"It comes back {late_ms} ms late; that is taken off what is said of your beat."
    assert (marks["title"], marks["tempo"], marks["player"], len(marks["notes"])) == ("Release", TEMPO, "me", 2)
    if not fault:
        assert "began 8" in marks["notes"][0]
        assert marks["off"] == "All where it should lie."
    if fault == "late":
        words = [words for note in marks["notes"] for words in note.split("; ") if "behind the beat" in words]
        assert [int(each.split()[0]) for each in words] == pytest.approx([160, 160], abs=25)


def test_without_clicks_the_beat_is_that_of_the_screen(desk: Desk) -> None:
    """And the page says that it is rough."""
    marks = desk.play(replace(RELEASE, latency_s=None))
    assert marks["beat"] == SILENT
    assert marks["next"].startswith("Next: All of it was as near")


def test_with_headphones_the_page_is_believed(desk: Desk) -> None:
    """No click comes back: what the browser says of its loudspeaker is taken off."""
    teacher, events = desk.come("teacher"), events_of("", clicks=False)
    before = [event for event in events if event.ready_s < ASKED_S]
    desk.tell(status(), *before)
    # The student hears the beat when it sounds, that much after the page has let it go.
    desk.hub.obey(teacher, replace(RELEASE, in_s=IN_S - SAID_S))
    desk.tell(ClicksBack(-1.0), *events[len(before) :])
    marks = desk.marks(teacher)
    assert marks["beat"].startswith("The clicks were not surely heard to come back, as with headphones on. 30 ms, ")
    assert marks["next"].startswith("Next: All of it was as near")


def test_each_time_is_kept_and_fifteen_cents_nearer_is_a_success(desk: Desk, tmp_path: Path) -> None:
    """In the file of ``reedwire drill``, with what is gained since the time before, and all times so far."""
    deep = desk.play(RELEASE, "deep")
    assert (deep["success"], deep["so_far"]) == (False, "")
    (off,) = deep["progress"]
    assert off == pytest.approx(45.0, abs=8.0)
    lines = (tmp_path / "reedwire" / "drill" / "me.jsonl").read_text("utf-8").splitlines()
    (kept,) = [json.loads(line) for line in lines]
    assert (kept["exercise"], kept["tempo"], kept["harp"]) == ("release", TEMPO, "C harp, cross position")


def test_progress_goes_on_where_the_terminal_left_it(desk: Desk, tmp_path: Path) -> None:
    """A time that was kept before counts as the time before."""
    folder = tmp_path / "reedwire" / "drill"
    folder.mkdir(parents=True)
    line = {
        "format": 1,
        "at": "2026-11-29T10:00:00",
        "exercise": "release",
        "tempo": 72,
        "off_cents": 45,
        "fault": "deep",
    }
    (folder / "me.jsonl").write_text(json.dumps(line) + "\n", encoding="utf-8")
    marks = desk.play(RELEASE)
    assert marks["off"] == "All where it should lie. That is 45 cents nearer than the time before: well done."
    assert marks["success"] is True
    assert marks["progress"] == [45.0, 0.0]
    assert marks["so_far"] == "2 times: 45 cents off the first time, 0 the last; the nearest 0."
    assert len((folder / "me.jsonl").read_text("utf-8").splitlines()) == 2


def test_a_file_of_a_newer_program_stays_as_it_is(desk: Desk, tmp_path: Path) -> None:
    """The marks are told to all, the trouble with the file to the teacher alone: it holds a path."""
    path = tmp_path / "reedwire" / "drill" / "me.jsonl"
    path.parent.mkdir(parents=True)
    newer = json.dumps({"format": 2}) + "\n"
    path.write_text(newer, encoding="utf-8")
    watching = {role: desk.come(role) for role in ("teacher", "viewer")}
    marks = desk.play(RELEASE)
    assert marks["next"].startswith("Next: All of it")
    assert path.read_text("utf-8") == newer
    told = {role: desk.owed(client, "saying") for role, client in watching.items()}
    assert [len(told[role]) for role in ("teacher", "viewer")] == [1, 0]
    assert "newer reedwire" in told["teacher"][0]["text"]


def test_only_the_teacher_begins_and_ends_one(desk: Desk) -> None:
    """A viewer is sent away for it; broken off, nothing of it is kept or told."""
    teacher, viewer = desk.come("teacher"), desk.come("viewer")
    desk.tell(status(), *events_of("", clicks=True)[:200])
    assert not desk.hub.obey(viewer, RELEASE)
    assert not desk.hub.obey(viewer, DrillOff())
    assert desk.hub.obey(teacher, RELEASE)
    (late,) = desk.owed(desk.come("viewer"), "drill")
    assert (late["on"], late["how"][:9], late["counted"], late["beats"]) == (True, "Begin low", COUNT_IN, 8)
    assert desk.hub.obey(teacher, DrillOff())
    assert [one["on"] for one in desk.owed(viewer, "drill")] == [True, False]
    assert desk.owed(desk.come("viewer"), "drill") == []


@pytest.mark.parametrize(
    ("wanted", "why"),
    [
        (replace(RELEASE, exercise="loud"), "There is no exercise 'loud'."),
        (replace(RELEASE, player="../me"), "Player '../me': a name has up to 40 letters"),
    ],
)
def test_what_cannot_be_begun_is_told(desk: Desk, wanted: DrillOn, why: str) -> None:
    """In a line, and nothing runs."""
    teacher = desk.come("teacher")
    desk.tell(status(), *events_of("", clicks=True)[:200])
    assert desk.hub.obey(teacher, wanted)
    (told,) = desk.owed(teacher, "drill")
    assert told["on"] is False
    assert told["why"].startswith(why)


def test_it_needs_a_harp_and_sound(desk: Desk) -> None:
    """Before any sound has come in, and while the harp is sought, there is nothing to judge by."""
    teacher = desk.come("teacher")
    desk.hub.obey(teacher, RELEASE)
    desk.tell(status(sought=True, harp="any harp"), *events_of("", clicks=True)[:200])
    desk.hub.obey(teacher, RELEASE)
    assert [one["why"] for one in desk.owed(teacher, "drill")] == [
        "No sound comes in.",
        "Nobody knows yet which harp it is.",
    ]


@pytest.mark.parametrize(
    ("other", "why"),
    [(status(harp="A harp, cross position"), "The harp was changed"), (status(armed=False), "The bridge")],
)
def test_it_is_broken_off_when_it_can_no_longer_be_judged(desk: Desk, other: Record, why: str) -> None:
    """Another harp, or a bridge that is told not to listen."""
    teacher = desk.come("teacher")
    events = events_of("", clicks=True)
    desk.tell(status(), *events[:200])
    desk.hub.obey(teacher, RELEASE)
    desk.tell(*events[200:300], status(), other)
    begun, ended = desk.owed(teacher, "drill")
    assert (begun["on"], ended["on"], ended["why"][: len(why)]) == (True, False, why)


def test_a_bridge_that_did_not_listen_does_so_for_the_exercise(desk: Desk) -> None:
    """It is asked to, and asked to stop again afterwards; the first page that is seen lets a recording begin."""
    teacher = desk.come("teacher")
    events = events_of("", clicks=True)
    desk.tell(status(armed=False), *events[:200])
    number = json.loads(desk.hub.picture(teacher)[-1])["n"]
    for _ in range(2):
        desk.hub.obey(teacher, Seen(number))
    desk.hub.obey(teacher, RELEASE)
    assert [each for each in desk.asked() if not isinstance(each, HearClicks)] == [Begin(), Arm(armed=True, lent=True)]
    desk.tell(status(armed=False), status(), *events[200:])
    assert desk.marks(teacher)["notes"]
    assert desk.asked() == [Arm(armed=False)]


def test_one_begun_in_place_of_another_is_listened_to_as_well(desk: Desk) -> None:
    """The bridge that listens for the first goes on for the second, and only then listens no more."""
    teacher = desk.come("teacher")
    events = events_of("", clicks=True)
    desk.tell(status(armed=False), *events[:200])
    desk.hub.obey(teacher, RELEASE)
    desk.tell(status())
    desk.hub.obey(teacher, replace(RELEASE, exercise="blue"))
    assert [each for each in desk.asked() if isinstance(each, Arm)] == [Arm(armed=True, lent=True)]
    assert [one["on"] for one in desk.owed(teacher, "drill")] == [True, True]
    desk.hub.obey(teacher, replace(RELEASE, exercise="loud"))
    assert [one["on"] for one in desk.owed(teacher, "drill")] == [False]
    assert desk.asked() == [Arm(armed=False)]


def test_one_that_is_broken_off_at_once_leaves_the_bridge_as_it_was(desk: Desk) -> None:
    """Also before the bridge has said that it listens."""
    teacher = desk.come("teacher")
    desk.tell(status(armed=False), *events_of("", clicks=True)[:200])
    desk.hub.obey(teacher, RELEASE)
    desk.hub.obey(teacher, DrillOff())
    assert [each for each in desk.asked() if isinstance(each, Arm)] == [Arm(armed=True, lent=True), Arm(armed=False)]


def test_it_is_broken_off_when_the_sound_stops(desk: Desk) -> None:
    """Its beat is not known any more; a hitch of a second changes nothing."""
    teacher = desk.come("teacher")
    desk.tell(status(), *events_of("", clicks=True)[:200])
    desk.hub.obey(teacher, RELEASE)
    desk.clock[0] += 1.0
    desk.hub.hear()
    assert [one["on"] for one in desk.owed(teacher, "drill")] == [True]
    desk.clock[0] += 1.5
    desk.hub.hear()
    (ended,) = desk.owed(teacher, "drill")
    assert (ended["on"], ended["why"][:16]) == (False, "No sound comes i")


def test_a_time_that_is_no_number_hurts_nobody(desk: Desk, tmp_path: Path) -> None:
    """A file edited by hand: the line is passed over, and the board lives on."""
    path = tmp_path / "reedwire" / "drill" / "me.jsonl"
    path.parent.mkdir(parents=True)
    path.write_text(
        '{"format":1,"at":"","exercise":"release","tempo":72,"off_cents":NaN,"fault":null}\n', encoding="utf-8"
    )
    assert desk.play(RELEASE)["progress"] == [0.0]


def test_a_tone_that_is_sounded_breaks_it_off(desk: Desk) -> None:
    """Nothing is heard while one sounds: what was played would be told to be missing."""
    teacher = desk.come("teacher")
    desk.tell(status(), *events_of("", clicks=True)[:200])
    desk.hub.obey(teacher, RELEASE)
    desk.hub.obey(teacher, Do(Quiet(sounding=False)))
    assert [one["on"] for one in desk.owed(teacher, "drill")] == [True]
    desk.hub.obey(teacher, Do(Quiet(sounding=True)))
    (ended,) = desk.owed(teacher, "drill")
    assert (ended["on"], ended["why"][:18]) == (False, "A tone is sounded,")
