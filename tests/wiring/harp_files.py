"""Harp files for tests, written by hand."""

from __future__ import annotations

from pathlib import Path

#: A harp in A at 442.3 Hz whose root and third were measured; draw 3 lies 14.4 cents flat of the root.
MINE = """\
format: 1
date: 2026-11-25
key: A
a4_hz: 442.3
temperament: just-7-limit
reeds:
  draw 2: {offset_cents: 1.5}
  draw 3: {offset_cents: -12.9, spread_cents: 0.4}
breath: {soft_db: -38.0, hard_db: -14.0, fall_cents: 7.5}
"""


def harp_file(folder: Path, name: str = "mine.yaml", text: str = MINE) -> str:
    """The path of a new harp file."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return str(path)
