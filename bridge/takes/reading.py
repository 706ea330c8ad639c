"""What a take has appended, read back as the events it was made of: ``journal.jsonl`` and ``curve.csv``.

A last line that is torn, because the machine stopped while it was written, is left out; any other line that cannot be
read is the user's to mend and is told with its file and number.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from heapq import merge
from pathlib import Path
from typing import Any

from bridge.base.errors import UserError
from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchPoint
from bridge.base.progress import Progress, nobody
from bridge.takes.curve import COLUMNS

#: Bytes between two words on how far one is.
_TOLD_EACH_BYTES = 1 << 18


@dataclass(frozen=True, slots=True)
class HarpChange:
    """From ``time_s`` on another harp is played; ``facts`` are what ``take.yaml`` says of it."""

    time_s: float
    ready_s: float
    facts: Mapping[str, object]


def read_events(journal: Path, curve: Path, progress: Progress = nobody) -> Iterator[Event | HarpChange]:
    """All that was appended, in the order in which it happened; a file that is missing holds nothing.

    ``progress`` is told the part read, 0..1. Raises UserError with file and line for what cannot be read.
    """
    meter = _Meter(sum(path.stat().st_size for path in (journal, curve) if path.exists()), progress)
    # A hop tells of its pitch before what came of it.
    yield from merge(_points(curve, meter), _journal(journal, meter), key=lambda event: event.ready_s)


@dataclass(slots=True)
class _Meter:
    """Counts what was read of so many bytes."""

    size: int
    progress: Progress
    done: int = 0
    told: int = 0

    def count(self, line: str) -> None:
        """Count a line; all that the program writes is of one byte a letter."""
        self.done += len(line)
        if self.done - self.told >= _TOLD_EACH_BYTES:
            self.told = self.done
            self.progress(min(1.0, self.done / self.size))


def _journal(path: Path, meter: _Meter) -> Iterator[Event | HarpChange]:
    ready_s = 0.0
    for number, line in _whole_lines(path, meter):
        try:
            event = _event(json.loads(line), ready_s)
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            raise UserError(
                f"{path}:{number}: no event of a take ({error}). Take the line out, or restore it."
            ) from error
        # Hand edits apart, what is appended later was ready later.
        ready_s = max(ready_s, event.ready_s)
        yield event


def _event(fields: dict[str, Any], ready_s: float) -> Event | HarpChange:
    """One line of the journal; of a change of harp only the time is known, and it came after what stands before it."""
    kind = fields.pop("is")
    match kind:
        case "on":
            return NoteOn(**{**fields, "inflection": Inflection(**fields["inflection"])})
        case "inflection":
            return Inflection(**fields)
        case "off":
            return NoteOff(**fields)
        case "harp":
            time_s = float(fields.pop("time_s"))
            return HarpChange(time_s, max(ready_s, time_s), fields)
    raise ValueError(f"is: {kind!r}")


def _points(path: Path, meter: _Meter) -> Iterator[PitchPoint]:
    lines = _whole_lines(path, meter)
    header = next(lines, None)
    if header is None:
        return
    if header[1].rstrip("\r") != ",".join(COLUMNS):
        raise UserError(f"{path}:1: the columns must be {','.join(COLUMNS)}. Restore the first line.")
    for number, line in lines:
        try:
            ready_s, time_s, hz, cents, level_db, clean = map(float, line.split(","))
        except ValueError as error:
            raise UserError(f"{path}:{number}: no row of six numbers. Take the line out, or restore it.") from error
        yield PitchPoint(time_s, ready_s, hz, cents, level_db, clean)


def _whole_lines(path: Path, meter: _Meter) -> Iterator[tuple[int, str]]:
    """The lines that were ended, with their numbers from 1; none for a file that is missing."""
    try:
        with path.open(encoding="utf-8", newline="") as file:
            for number, line in enumerate(file, start=1):
                meter.count(line)
                if line.endswith("\n"):
                    yield number, line[:-1]
    except FileNotFoundError:
        return
    except (OSError, UnicodeDecodeError) as error:
        raise UserError(f"{path} cannot be read ({error}). Check the file and its rights.") from error
