"""``journal.jsonl``: every event of a note, one JSON object a line, at once."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given

from bridge.base.errors import ClosedError
from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchPoint
from bridge.takes.journal import Journal
from send.made_events import any_events, inflection, note_off, note_on, point

KINDS = {"on": NoteOn, "inflection": Inflection, "off": NoteOff}


def assert_near(line: dict[str, Any], fields: dict[str, Any]) -> None:
    """The line holds these fields and no other, as precisely as promised."""
    assert line.keys() == fields.keys()
    for name, value in fields.items():
        if isinstance(value, dict):
            assert_near(line[name], value)
        elif isinstance(value, float):
            within = 0.5e-5 if name.endswith("_s") else 0.5e-4
            assert line[name] == pytest.approx(value, rel=1e-12, abs=within * 1.001)
        else:
            assert line[name] == value


@given(any_events)
def test_every_event_of_a_note_is_read_back(tmp_path_factory: pytest.TempPathFactory, events: list[Event]) -> None:
    """Read as JSON (RFC 8259): times within 5 us, other numbers within half a ten-thousandth, the rest as it was."""
    path = tmp_path_factory.mktemp("journal") / "journal.jsonl"
    journal = Journal(path)
    for event in events:
        journal.add(event)
    journal.close()
    kept = [event for event in events if not isinstance(event, PitchPoint)]
    lines = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    for line, event in zip(lines, kept, strict=True):
        assert isinstance(event, KINDS[line.pop("is")])
        assert_near(line, asdict(event))


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


def test_numbers_carry_no_more_digits_than_are_meant(tmp_path: Path) -> None:
    """A third of a cent is 0.3333, a third of a second 0.33333."""
    path = tmp_path / "journal.jsonl"
    journal = Journal(path)
    journal.add(inflection(1 / 3, bend_cents=1 / 3))
    journal.close()
    assert '"time_s":0.33333,' in path.read_text()
    assert '"bend_cents":0.3333,' in path.read_text()


def test_a_change_of_harp_gets_a_line(tmp_path: Path) -> None:
    """With its time and what the harp is."""
    path = tmp_path / "journal.jsonl"
    journal = Journal(path)
    journal.change_harp(1.25, {"key": "A", "position": 2})
    journal.close()
    assert json.loads(path.read_text()) == {"is": "harp", "time_s": 1.25, "key": "A", "position": 2}


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
