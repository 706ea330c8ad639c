"""``journal.jsonl``: the events of a live take as they happen, one JSON object a line.

Each line holds ``is`` (``on``, ``inflection`` or ``off``) and the fields of the event, times in s to 5 decimals, other
numbers to 4; a change of harp is ``harp`` with ``time_s`` and what the harp is. Points are left to ``curve.csv``. A
line is one unbuffered append, so that whatever ends the process costs at most the line being written.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path

from bridge.base.events import Event, Inflection, NoteOff, NoteOn
from bridge.takes.appending import AppendFile

#: Ten microseconds, as in the tables; a ten-thousandth of a cent or of a full controller.
_TIME_DECIMALS, _DECIMALS = 5, 4


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
        self._append(kind, asdict(event))

    def change_harp(self, time_s: float, harp: Mapping[str, object]) -> None:
        """Append that from ``time_s`` on another harp is played."""
        self._append("harp", {"time_s": time_s, **harp})

    def close(self) -> None:
        """Close; closing again does nothing."""
        self._file.close()

    def _append(self, kind: str, fields: Mapping[str, object]) -> None:
        line = json.dumps({"is": kind, **_rounded(fields)}, allow_nan=False, separators=(",", ":"))
        self._file.append(line.encode() + b"\n")


def _rounded(fields: Mapping[str, object]) -> dict[str, object]:
    """The fields, also those inside a field, without the digits that nothing measures."""
    return {name: _round(name, value) for name, value in fields.items()}


def _round(name: str, value: object) -> object:
    if isinstance(value, Mapping):
        return _rounded(value)
    if isinstance(value, float):
        return round(value, _TIME_DECIMALS if name.endswith("_s") else _DECIMALS)
    return value
