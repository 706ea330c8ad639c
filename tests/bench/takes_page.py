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
#: The same as in the soak.
FLAT_MB = 5.0
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
    more_mb = {name: cost.memory_mb - short[name].memory_mb for name, cost in long.items()}
    lines = [
        "# Long takes",
        "",
        "Run it with `PYTHONPATH=tests:. python -m bench.takes`.",
        "",
        f"{day}, {os.cpu_count()} cores, load {load:.1f}; a made-up take of {minutes:g} minutes: {made_of}.",
        "",
        f"| | seconds | times real time | memory, MB | at {minutes / _SHORTER:g} minutes, MB | more, MB |",
        "| --- | ---: | ---: | ---: | ---: | ---: |",
    ]
    for name, cost in long.items():
        speed = 60.0 * minutes / cost.seconds
        memory = f"{cost.memory_mb:.1f} | {short[name].memory_mb:.1f} | {more_mb[name]:.1f}"
        lines.append(f"| {name} | {cost.seconds:.1f} | {speed:.0f} | {memory} |")
    slowest = min(60.0 * minutes / long[name].seconds for name in (PLAIN_REBUILD, EDITED_REBUILD))
    return "\n".join([*lines, "", _words(slowest, size, more_mb)])


def _beyond(more_mb: Mapping[str, float]) -> str:
    """What took more than counts as flat."""
    found = [f"{name} ({mb:.1f} MB)" for name, mb in more_mb.items() if mb > FLAT_MB]
    return "; ".join(found) or "nothing"


def _words(slowest: float, size: Size, more_mb: Mapping[str, float]) -> str:
    """What the figures mean."""
    in_a_note = round(size.breakpoints / max(1, size.notes))
    each = bytes_of_a_breakpoint(in_a_note)
    table_mb = (size.breakpoints * each + size.notes * bytes_of_a_note()) / _MB
    return f"""\
Wanted: rebuilt without singing again at {WANTED_SPEED:g} times real time or faster. The slower of both
is {slowest:.0f} times.

Memory is the largest resident set of the process, libraries included; flat means that an hour takes no more than
{FLAT_MB:g} MB beyond six minutes. Frames and sound pass through. The messages of a MIDI file and the tables as they are
derived wait on the disk beside the take, what `--from` reads in TMPDIR, in files without a name. MIDI file
({size.midi_bytes / _MB:.1f} MB), score ({size.score_bytes / _MB:.1f} MB) and tables are written piece by piece. What
grows with the length is the notes as tables have them, {each:.0f} bytes a breakpoint and {bytes_of_a_note()} a note:
{table_mb:.1f} MB for this take, and half as much more while they are read. Of other versions of the take (as it was
played, as it was last rebuilt, as an edit makes it) only the notes that are others are held besides. More than flat
here: {_beyond(more_mb)}.

Praat and what it needs to sing a note take some 80 MB, once. Sound is copied and sung five seconds at a time.
"""
