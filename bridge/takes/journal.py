"""``journal.jsonl``: every event of a live take as it happens, one JSON object a line.

Each line holds ``is`` (``on``, ``inflection`` or ``off``) and the fields of the event. Points are left to
``curve.csv``. A line is one unbuffered append, so that whatever ends the process costs at most the line being written.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

from bridge.base.events import Event, Inflection, NoteOff, NoteOn
from bridge.takes.appending import AppendFile


class Journal:
    """Appends the events of notes; raises OSError when the file exists or the disk takes no more."""

    def __init__(self, path: Path) -> None:
        self._file = AppendFile(path)

    def add(self, event: Event) -> None:
        """Append one event; a point adds nothing."""
        match event:
            case NoteOn():
                kind = "on"
            case Inflection():
                kind = "inflection"
            case NoteOff():
                kind = "off"
            case _:
                return
        line = json.dumps({"is": kind, **asdict(event)}, allow_nan=False, separators=(",", ":"))
        self._file.append(line.encode() + b"\n")

    def close(self) -> None:
        """Close; closing again does nothing."""
        self._file.close()
