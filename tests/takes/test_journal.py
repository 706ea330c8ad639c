"""``journal.jsonl``: every event of a note, one JSON object a line, at once."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from pathlib import Path

import pytest
from hypothesis import given

from bridge.base.errors import ClosedError
from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchPoint
from bridge.takes.journal import Journal
from send.made_events import any_events, inflection, note_off, note_on, point

KINDS = {"on": NoteOn, "inflection": Inflection, "off": NoteOff}


@given(any_events)
def test_every_event_of_a_note_is_read_back_exactly(
    tmp_path_factory: pytest.TempPathFactory, events: list[Event]
) -> None:
    """JSON (RFC 8259) keeps each value to the last bit."""
    path = tmp_path_factory.mktemp("journal") / "journal.jsonl"
    journal = Journal(path)
    for event in events:
        journal.add(event)
    journal.close()
    kept = [event for event in events if not isinstance(event, PitchPoint)]
    lines = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    for line, event in zip(lines, kept, strict=True):
        assert isinstance(event, KINDS[line.pop("is")])
        assert line == asdict(event)


def test_a_line_is_in_the_file_before_add_returns(tmp_path: Path) -> None:
    """Nothing waits in a buffer."""
    path = tmp_path / "journal.jsonl"
    journal = Journal(path)
    events: list[Event] = [note_on(0.0), inflection(0.1), note_off(0.2)]
    for count, event in enumerate(events, start=1):
        journal.add(event)
        assert path.read_bytes().count(b"\n") == count
    journal.add(point(0.3))
    assert path.read_bytes().count(b"\n") == 3
    journal.close()


def test_what_json_cannot_say_is_refused(tmp_path: Path) -> None:
    """NaN would make the line unreadable for every other program."""
    journal = Journal(tmp_path / "journal.jsonl")
    with pytest.raises(ValueError, match="JSON"):
        journal.add(inflection(0.0, bend_cents=math.nan))
    journal.close()


def test_a_closed_journal_raises_and_an_existing_one_stays(tmp_path: Path) -> None:
    """Closing twice is fine, using it then is a fault."""
    path = tmp_path / "journal.jsonl"
    journal = Journal(path)
    journal.close()
    journal.close()
    with pytest.raises(ClosedError):
        journal.add(note_on(0.0))
    with pytest.raises(FileExistsError):
        Journal(path)
