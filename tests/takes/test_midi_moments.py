"""A MIDI file read as a stream: the same as mido reads as a whole, and what other programs put between messages."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import mido
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.base.errors import UserError
from bridge.takes.edited import EditedNote
from bridge.takes.midi_line import Line
from bridge.takes.midi_moments import MidiMoments
from takes.made_notes import any_notes
from takes.sequencer import SAVINGS, file_of

FOLDER_IS_SHARED = settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
#: Format 1, one track, 96 ticks a quarter (RP-001): the tempo is 500,000 us a quarter where none is said.
HEADER = bytes.fromhex("4d546864 00000006 0001 0001 0060")
#: A note on at tick 0 and, with running status, with velocity 0 at tick 96; the end of the track 96 ticks later.
NOTE = bytes.fromhex("00 90 3c 40  60 3c 00")
END = bytes.fromhex("60 ff 2f 00")


def track(data: bytes, name: bytes = b"MTrk") -> bytes:
    """A chunk."""
    return name + len(data).to_bytes(4, "big") + data


def told(folder: Path, data: bytes) -> list[tuple[float, list[Any]]]:
    """The moments of a file with the messages of channels in each."""
    path = folder / "some.mid"
    path.write_bytes(data)
    return [(now_s, [one for one in messages if not one.is_meta]) for now_s, messages in MidiMoments(path)]


@FOLDER_IS_SHARED
@given(any_notes(), st.sampled_from(sorted(SAVINGS)), st.booleans())
def test_it_is_what_mido_reads(tmp_path: Path, notes: list[EditedNote], saving: str, mpe: bool) -> None:
    """Every message of a channel at its second, against mido's own reading of the whole file."""
    data = SAVINGS[saving](file_of(notes, mpe=mpe))
    wanted, now_s = [], 0.0
    for message in mido.MidiFile(file=io.BytesIO(data)):
        now_s += message.time
        if not message.is_meta:
            wanted.append((now_s, message.copy(time=0)))
    got = [(now_s, message) for now_s, messages in told(tmp_path, data) for message in messages]
    assert [message for _, message in got] == [message for _, message in wanted]
    assert [now_s for now_s, _ in got] == pytest.approx([now_s for now_s, _ in wanted])


@pytest.mark.parametrize(
    "between",
    [
        b"",
        bytes.fromhex("00 f0 05 7e 7f 09 01 f7"),  # system exclusive: General MIDI on
        bytes.fromhex("00 ff 03 02 fc ff"),  # a track name that is no UTF-8
        bytes.fromhex("00 ff 59 02 63 00"),  # a key signature that there is not
        bytes.fromhex("00 ff 51 01 07"),  # a tempo that is too short
    ],
)
def test_what_it_has_no_use_for_is_passed_over(tmp_path: Path, between: bytes) -> None:
    """System exclusive and texts, whatever is in them, and chunks of another kind (RP-001: to be ignored)."""
    data = HEADER + track(b"xyz", b"Junk") + track(between + NOTE + END)
    moments = told(tmp_path, data)
    assert [now_s for now_s, _ in moments] == [0.0, 0.5, 1.0]
    assert [[message.type for message in messages] for _, messages in moments] == [["note_on"], ["note_on"], []]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (HEADER + track(NOTE + END)[:-6], "it ends too soon"),
        (HEADER + track(NOTE[:-1]), "it ends too soon"),
        (HEADER + track(bytes.fromhex("00 3c 40")), "a message without its status"),
        (HEADER + track(bytes.fromhex("00 ff 03 09 41")), "it ends too soon"),
        # A text and a system exclusive of half a gigabyte and more, of which two bytes are there.
        (HEADER + track(bytes.fromhex("00 ff 01 8f ff ff ff 7f 41 42")), "it ends too soon"),
        (HEADER + track(bytes.fromhex("00 f0 8f ff ff ff 7f 41 f7")), "it ends too soon"),
        (b"MThd" + bytes.fromhex("ffffffff 0001 0001 0060") + track(NOTE + END), "it ends too soon"),
        (HEADER, "it ends too soon"),
        (HEADER[:12] + bytes.fromhex("e7 28"), "allowed: 0 or 1, with ticks in a quarter"),
    ],
)
def test_what_is_damaged_is_told(tmp_path: Path, data: bytes, words: str) -> None:
    """Wherever that is in the file."""
    with pytest.raises(UserError, match=words):
        told(tmp_path, data)


def test_progress_rises(tmp_path: Path) -> None:
    """From 0, never beyond 1."""
    path = tmp_path / "long.mid"
    path.write_bytes(HEADER + track(NOTE * 3000 + END))
    parts: list[float] = []
    moments = MidiMoments(path, parts.append)
    assert len(list(moments)) == 3002
    assert parts == sorted(parts)
    assert len(parts) == 4
    assert parts[0] < 0.01
    assert 0.6 < parts[2] < 0.7
    assert parts[-1] <= 1.0
    assert moments.tick_s == 0.5 / 96


def test_a_leap_lies_a_moment_before() -> None:
    """Two values at one time are a leap of a tenth of a millisecond; a third takes the place of the second."""
    line = Line()
    assert not line
    for at_s, value in ((0.0, 1.0), (0.5, 2.0), (0.5, 3.0), (0.5, 4.0)):
        line.put(at_s, value)
    assert list(line) == [(0.0, 1.0), (pytest.approx(0.4999), 2.0), (0.5, 4.0)]
