"""The page of a sound check: what is on it, and that it can be seen at once."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bridge.cli.check_changes import changes
from bridge.cli.check_page import page
from bridge.follow.hum import Hum
from bridge.follow.loudspeaker import LoudspeakerReturn
from bridge.follow.room_noise import LearnedRoom
from bridge.follow.suppression import Suppression
from bridge.wiring.sound_check import Checked
from cli.checked_pages import PLAYED, checked, timing

RETURN = (LoudspeakerReturn(0.0155, -15.0, 50.0, clipped=False), -46.0)
#: A check in which nearly everything is wrong.
BAD = checked(
    "send.midi.port=Long name of a synth MIDI 1",
    room=LearnedRoom(5.0, -45.0, -42.0, 0.0, 0.0),
    hum=Hum(50, -40.0),
    played=replace(PLAYED, clipped=3485, peak_db=0.0, suppression=Suppression(dead_pauses=3, fading=2)),
    timing=timing(bunch=8, work_s=0.0024, late_s=0.006),
    lost=12,
    loudspeaker=RETURN,
    loudspeaker_played=True,
    bend=True,
)


def shown(found: Checked, width: int = 80) -> list[str]:
    """The page in lines."""
    return page(found, "2026-11-29 19:30", width)


@pytest.mark.parametrize("found", [checked(), BAD, checked(played=None)], ids=["well", "bad", "nobody played"])
@pytest.mark.parametrize("width", [60, 80, 132])
def test_no_line_is_wider_than_the_terminal(found: Checked, width: int) -> None:
    """Nor wider than 80 characters; all of it plain text that any terminal and any file takes."""
    lines = shown(found, width)
    assert max(map(len, lines)) <= min(width, 80)
    assert "\n".join(lines).isascii()


@pytest.mark.parametrize("width", [60, 80])
@pytest.mark.parametrize("height", [16, 21, 23, 30])
def test_it_fits_the_screen(height: int, width: int) -> None:
    """Whatever is wrong, 80 x 24 holds it with a row for what is typed next; in a file all is told."""
    assert len(page(checked(), "2026-11-29 19:30", 80, height)) < 23
    lines = page(BAD, "2026-11-29 19:30", width, height)
    told = [line for line in lines if line[:1].isdigit()]
    assert len(lines) <= height
    assert max(map(len, lines)) <= width
    assert lines[0].startswith("SOUND CHECK")
    assert len(told) >= 2
    more = f"And {len(changes(BAD)) - len(told)} more: mend these first, then check again. All: reedwire check | less"
    assert more in " ".join(lines)
    whole = shown(BAD)
    assert sum(line[:1].isdigit() for line in whole) == len(changes(BAD))
    assert "| less" not in whole[-1]


def test_what_matters_least_is_left_out_first() -> None:
    """On a low screen the worker's time goes, the room stays; where all else is well the page says so."""
    whole = shown(checked())
    lines = page(checked(), "2026-11-29 19:30", 80, len(whole) - 1)
    assert lines[-2:] == ["Nothing.", "Not all is shown here. All: reedwire check | less"]
    names = [line.split()[0] for line in lines if line]
    assert "Worker" not in names
    assert {"Room", "Playing", "Delay"} <= set(names)
    assert page(checked(), "2026-11-29 19:30", 80, len(whole)) == whole


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (checked("send.midi.port=none"), "bend test (--midi PORT)"),
        (checked("send.midi.port=virtual"), "bend test (--midi virtual)"),
        (checked("send.midi.port=my synth"), "bend test (--midi 'my synth')"),
        (checked(no_bend="stopped"), "bend test (stopped)"),
    ],
)
def test_how_to_get_the_bend_test_is_said_by_what_is_missing(found: Checked, said: str) -> None:
    """The port that play would use, or that the test was begun and stopped."""
    assert f"Not done {said}, loudspeaker" in shown(found)


def test_who_stops_at_once_has_played_too_little() -> None:
    """No level is told, and the delay is not said to be of what was played."""
    played = replace(PLAYED, seconds=0.2)
    text = "\n".join(shown(checked(played=played, cut_short_s=0.9)))
    assert "Playing  too little was played (0.2 s)\n" in text
    assert "computed for this harp" in text
    assert "dBFS; " not in text.partition("Playing")[2]


def test_the_delay_adds_up_in_every_column() -> None:
    """Low note, middle note and attack: the printed lines sum to the printed sum, within rounding."""
    lines = shown(checked())
    at = next(place for place, line in enumerate(lines) if line.startswith("Delay"))
    assert lines[at].split() == ["Delay", "C4", "E5", "attack", "in", "ms"]
    rows = {line.split()[0]: [float(cell) for cell in line.split()[1:4]] for line in lines[at + 1 : at + 6]}
    assert list(rows) == ["block", "window", "worker", "MIDI", "sum"]
    assert rows["window"] == [5.0, 3.3, 12.1]
    for column, total in enumerate(rows.pop("sum")):
        assert total == pytest.approx(sum(row[column] for row in rows.values()), abs=0.21)


def test_what_was_not_measured_is_not_promised() -> None:
    """Nobody played: the window is said to be computed, the worker's time is left out; MIDI is assumed in any case."""
    text = "\n".join(shown(checked(played=None, timing=timing(answered=False))))
    assert "computed for this harp" in text
    assert "as you played" not in text
    assert "\n  worker" not in text
    assert "not measured: nobody was listened to" in text
    for width in (60, 80):
        flowing = " ".join(" ".join(shown(checked(), width)).split())
        assert "assumed: USB; by a 5-pin cable 6.7" in flowing
        assert "without converters, driver and synth" in flowing


def test_no_midi_has_no_line() -> None:
    """Neither in the delay nor among the outputs."""
    text = "\n".join(shown(checked("send.midi.port=none", "send.osc.to=none")))
    assert "Output   no MIDI; no OSC" in text
    assert "\n  MIDI" not in text


def test_what_is_seen_is_said_in_words() -> None:
    """Room, hum, levels, overload, suppression, timing, loss and loudspeaker."""
    text = " ".join(" ".join(shown(BAD)).split())
    for words in (
        "Room noise -45.0 dBFS, 99 % of it under -42.0; 50 Hz hum at -40",
        "9.1 s, C4 to A6: soft -31, hard -14, peak 0.0 dBFS; overloaded in 3485 places; noise suppression",
        "with 8 blocks",
        "longest 27.3; sound lost",
        "Speaker comes back after 15.5 ms, 15 dB under the harp",
        "Synth two rises, by a note and by a bend; if unlike, set it to 2 semitones",
    ):
        assert words in text
    text = " ".join(" ".join(shown(checked())).split())
    for words in (
        "Gate opens at -50, closes at -56 dBFS, fits; the room allows -50.0",
        "not overloaded; no noise suppression seen",
        "nothing lost",
        "Not done bend test (--midi virtual), loudspeaker",
        "70 % free without OSC and take",
        "first Nothing.",
    ):
        assert words in text


def test_a_setting_is_never_torn_from_its_option() -> None:
    """So that it can be copied from the page, however narrow."""
    found = checked(room=LearnedRoom(5.0, -58.0, -55.0, 0.0, 0.0), loudspeaker=RETURN, loudspeaker_played=True)
    for width in range(40, 81):
        lines = shown(found, width)
        assert not any(line.rstrip().endswith("--set") for line in lines)
        assert "\N{NO-BREAK SPACE}" not in "\n".join(lines)
