"""What long takes cost, as the page ``takes.md``."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from bridge.takes.edited import Breakpoint, EditedNote, Points

#: What the speed that is wanted is wanted of.
PLAIN_REBUILD, EDITED_REBUILD = "`rebuild`, nothing edited", "`rebuild --no-sound`, one note in 20 edited"
WANTED_SPEED = 20.0
_MB = 1024.0 * 1024.0
#: What is told of an hour is told of so much less as well.
_SHORTER = 10.0


@dataclass(frozen=True)
class Cost:
    """What one piece of work took: seconds, and the greatest memory of its process in MB."""

    seconds: float
    memory_mb: float


@dataclass(frozen=True)
class Size:
    """What a take is made of, and the bytes of its files."""

    frames: int
    notes: int
    breakpoints: int
    midi_bytes: int
    score_bytes: int


def bytes_of_a_breakpoint(in_a_note: int) -> float:
    """What a breakpoint takes in memory where a note has so many: its three numbers, and its part of what holds all."""
    points = Points([Breakpoint(0.5, -12.5, 0.7)] * in_a_note)
    return (sys.getsizeof(points) + sys.getsizeof(points._numbers)) / in_a_note


def bytes_of_a_note() -> int:
    """What a note takes besides: itself, the times and the bend of its reed, and its number."""
    note = EditedNote(1000, 0.5, 0.25, 71, "3", 96, 3, "draw", "bend", -47.2, "", ())
    return sum(map(sys.getsizeof, (note, note.start_s, note.length_s, note.reed_bend_cents, note.id)))


def page(minutes: float, long: Mapping[str, Cost], short: Mapping[str, Cost], size: Size) -> str:
    """The costs of a take of so many ``minutes`` and of one a tenth as long, by what was done."""
    day, load = datetime.now(UTC).date().isoformat(), os.getloadavg()[1]
    made_of = f"{size.frames:,} frames, {size.notes:,} notes, {size.breakpoints:,} breakpoints"
    lines = [
        "# Long takes",
        "",
        "Run it with `PYTHONPATH=tests:. python -m bench.takes`.",
        "",
        f"{day}, {os.cpu_count()} cores, load {load:.1f}; a made-up take of {minutes:g} minutes: {made_of}.",
        "",
        f"| | seconds | times real time | memory, MB | at {minutes / _SHORTER:g} minutes, MB | more, bytes a frame |",
        "| --- | ---: | ---: | ---: | ---: | ---: |",
    ]
    for name, cost in long.items():
        more = (cost.memory_mb - short[name].memory_mb) * _MB / (size.frames * (1.0 - 1.0 / _SHORTER))
        speed = 60.0 * minutes / cost.seconds
        figures = f"{cost.seconds:.1f} | {speed:.0f} | {cost.memory_mb:.0f} | {short[name].memory_mb:.0f} | {more:.0f}"
        lines.append(f"| {name} | {figures} |")
    slowest = min(60.0 * minutes / long[name].seconds for name in (PLAIN_REBUILD, EDITED_REBUILD))
    return "\n".join([*lines, "", _words(slowest, size)])


def _words(slowest: float, size: Size) -> str:
    """What the figures mean."""
    in_a_note = round(size.breakpoints / max(1, size.notes))
    each = bytes_of_a_breakpoint(in_a_note)
    table_mb = (size.breakpoints * each + size.notes * bytes_of_a_note()) / _MB
    return f"""\
Wanted: rebuilt without singing again at {WANTED_SPEED:g} times real time or faster. The slower of both
is {slowest:.0f} times.

Memory is the largest resident set of the process, libraries included. No command holds frames, sound or MIDI messages
as objects. What grows with the length:

- The tables, {each:.0f} bytes a breakpoint and {bytes_of_a_note()} a note: {table_mb:.1f} MB for this take, and half as
  much more while they are read. They are read and written line by line. Of other versions of the take (as it was
  played, as it was last rebuilt, as an edit makes it) only the notes that are others are held besides.
- The MIDI file while it is made, seven bytes a message, then the file itself, {size.midi_bytes / _MB:.1f} MB. What
  `--from` reads of it lies in arrays, 16 bytes a value, and 24 more while it is compared with the tables.
- The score while it is made: its bars and its file, {size.score_bytes / _MB:.1f} MB, some two and a half times that in
  all (measured by itself). It is written bar by bar.

Praat and what it needs to sing a note take some 80 MB, once. Sound is copied and sung five seconds at a time.
"""
