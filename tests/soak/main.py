"""The command behind ``tests/soak/run``."""

from __future__ import annotations

import argparse
import datetime as dt
import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from soak.file_chain import FileSoak, soak_file_chain
from soak.jackd import JackSoak, soak_jackd

_HERE = Path(__file__).resolve().parent
#: Flat means no more than this, in MB, from the end of the warm-up to the end.
FLAT_MB = 5.0


def main() -> None:
    """Soak, print the table, keep it."""
    parser = argparse.ArgumentParser(prog="tests/soak/run", description="Hours of playing: memory, time, losses.")
    parser.add_argument("--hours", type=float, default=8.0, help="of sound through the engine, as fast as it goes (8)")
    parser.add_argument("--minutes", type=float, default=30.0, help="through jackd, as long as they last (30)")
    parser.add_argument("--folder", type=Path, help="where samples of memory go while it runs (a new one)")
    parser.add_argument("--out", type=Path, default=_HERE / "results.md", help="where the table goes")
    chosen = parser.parse_args()
    folder = chosen.folder or Path(tempfile.mkdtemp(prefix="reedwire-soak-"))
    folder.mkdir(parents=True, exist_ok=True)
    sys.stderr.write(f"soak: samples go to {folder}\n")
    parts = []
    if chosen.hours > 0.0:
        parts.append(file_table(soak_file_chain(3600.0 * chosen.hours, folder)))
    if chosen.minutes > 0.0:
        parts.append(jackd_table(soak_jackd(60.0 * chosen.minutes, folder)))
    head = f"# Soak\n\n{dt.datetime.now(tz=dt.UTC).date().isoformat()}, {os.cpu_count()} cores. `tests/soak/run`.\n\n"
    text = head + "\n".join(parts)
    chosen.out.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


def file_table(soak: FileSoak) -> str:
    """The table of the hours through the engine."""
    return _table(
        f"{soak.given_s / 3600.0:.2f} h of sound through the engine (MIDI and OSC sent, no take)",
        {
            "speed, times real time": f"{soak.given_s / soak.took_s:.1f}",
            **_grown(soak.growth.names, soak.growth.grown_mb),
            "drift of stream time against samples, ms": f"{1000.0 * soak.drift_s:.3f}",
            "notes played, notes sent": f"{soak.played}, {soak.notes}",
            "notes sent a minute, first and last fifth": f"{soak.first:.1f}, {soak.last:.1f}",
            "Note Ons over a sounding note, Note Offs of none": f"{soak.broken}",
            "notes left sounding": f"{soak.stuck}",
            "failures and notices": "; ".join(soak.failures) or "none",
        },
    )


def jackd_table(soak: JackSoak) -> str:
    """The table of the minutes through jackd."""
    return _table(
        f"{soak.seconds / 60.0:.1f} min through jackd, 48 kHz / 128 (MIDI and OSC sent, a take written)",
        {
            **_grown(soak.growth.names, soak.growth.grown_mb),
            "drift of stream time against JACK frames, ms": f"{soak.drift_ms:.2f}",
            "off in between, 99 of 100 notes, ms at most": f"{soak.wander_ms:.2f}",
            "notes sent": f"{soak.notes}",
            "notes that only MIDI or only OSC has": f"{soak.unlike}",
            "times it missed a MIDI port that was there": f"{soak.outages}",
            "notes left sounding": f"{soak.stuck}",
            "times the sound server was late": f"{soak.xruns}",
            "lost": "; ".join(soak.lost) or "nothing",
            "status at the end": f"{soak.status}",
        },
    )


def _grown(names: list[str], grown_mb: Callable[[str], float]) -> dict[str, str]:
    return {f"memory of the {name} grown by, MB (flat: {FLAT_MB:g})": f"{grown_mb(name):.2f}" for name in names}


def _table(title: str, rows: dict[str, str]) -> str:
    lines = [f"| {what} | {value} |" for what, value in rows.items()]
    return "\n".join([f"## {title}", "", "| | |", "| --- | --- |", *lines, ""])


if __name__ == "__main__":
    main()
