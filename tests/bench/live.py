"""How soon ``reedwire play`` answers: ``python -m bench.live`` (with ``PYTHONPATH=tests:.``) prints it and keeps it.

Through a silent sound card (jackd, dummy driver, 48 kHz / 128), timed in JACK frames: once on a machine that is left
alone, once with a core kept busy and a take being written. The table goes to ``live.md`` beside this file.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from bench.live_measure import PERIOD, LiveTimed, measure, rehearsals
from sounds.known import Floats
from sounds.rehearsed import RATE

_HERE = Path(__file__).resolve().parent
_HEAD = (
    f"{{date}}, {{cores}} cores, jackd with the dummy driver at {RATE} Hz / {PERIOD} frames and real-time priority; "
    "milliseconds by the clock of the sound card (JACK frames). `python -m bench.live`."
)
_FOOT = (
    "The follower's own delay is `ready_s` of the same sound through the same chain without a sound card. A message is "
    "stamped with the beginning of the period in which it comes. A silent card has no converters: a real one adds its "
    "own delay, usually one or two blocks; and it hands sound over when a block is full, the silent one as it begins, "
    "so that one block more (2.7 ms) belongs to every line. Frames that the server leaves out when it is late count. "
    "What the engine itself counted, in the same order:"
)


@dataclass(frozen=True)
class Line:
    """One line of the table: what it is, the value in each run, and the most it may be (None: told only)."""

    what: str
    values: tuple[float, ...]
    most: float | None = None


def main() -> None:
    """Measure, print, keep."""
    parser = argparse.ArgumentParser(prog="python -m bench.live", description="Live timing in JACK frames.")
    parser.add_argument("--rehearsals", type=int, default=3, help="79 notes and 43 seconds each (3)")
    parser.add_argument("--out", type=Path, default=_HERE / "live.md", help="where the table goes")
    chosen = parser.parse_args()
    sound = rehearsals(chosen.rehearsals)
    with tempfile.TemporaryDirectory() as folder:
        plain = measure(sound, Path(folder) / "plain")
        busy = measure(sound, Path(folder) / "busy", busy=True, take=True)
    text = page(plain, busy, dt.datetime.now(tz=dt.UTC).date().isoformat())
    chosen.out.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


def lines(plain: LiveTimed, busy: LiveTimed) -> list[Line]:
    """What the table holds."""
    both = (plain, busy)

    def parts(values: str, part: float) -> tuple[float, ...]:
        return tuple(_part(getattr(run, values), part) for run in both)

    extra_99 = parts("extra", 0.99)
    return [
        Line("live delay over the follower's own, p50", parts("extra", 0.5), 6.0),
        Line("live delay over the follower's own, p99", extra_99, 9.0),
        Line("live delay over the follower's own, longest", parts("extra", 1.0)),
        Line("p99 moved by a busy core and a take", (0.0, extra_99[1] - extra_99[0]), 2.0),
        Line("attack to Note On, p50", parts("onset", 0.5), 20.0),
        Line("attack to Note On, p99", parts("onset", 0.99)),
        Line("played bend to bend sent, p50", parts("bend", 0.5), 10.0),
        Line("played bend to bend sent, longest", parts("bend", 1.0)),
    ]


def page(plain: LiveTimed, busy: LiveTimed, date: str) -> str:
    """The table as Markdown."""
    rows = [
        f"| {line.what} | {' | '.join(f'{value:.1f}' for value in line.values)} | {_wanted(line)} |"
        for line in lines(plain, busy)
    ]
    counts = [
        f"| {what} | {first} | {second} | |"
        for what, first, second in (
            ("Note Ons", plain.notes, busy.notes),
            ("notes of the chain alone", plain.alone, busy.alone),
            ("notes that only one of the two has", plain.unlike, busy.unlike),
            ("notes that move, of which the bend is timed", len(plain.bend), len(busy.bend)),
            ("notes left sounding", plain.stuck, busy.stuck),
            ("times the sound server was late", plain.xruns, busy.xruns),
            ("load of the machine at the end", f"{plain.load:.1f}", f"{busy.load:.1f}"),
        )
    ]
    said = [line for run in (plain, busy) for line in run.said.splitlines() if line.startswith("From sound card")]
    return "\n".join(
        [
            "# Live timing",
            "",
            _HEAD.format(date=date, cores=os.cpu_count()),
            "",
            "| | left alone | one core busy, take written | wanted |",
            "| --- | ---: | ---: | --- |",
            *rows,
            *counts,
            "",
            _FOOT,
            "",
            *[f"- {line}" for line in said],
            "",
        ]
    )


def _wanted(line: Line) -> str:
    if line.most is None:
        return ""
    met = all(value <= line.most for value in line.values)
    return f"<= {line.most:g} {'met' if met else 'MISSED'}"


def _part(values: Floats, part: float) -> float:
    return float(np.quantile(values, part)) if len(values) else float("nan")


if __name__ == "__main__":
    main()
