"""Which notes ``resung.wav`` was sung from, kept in ``rebuilt/sung.txt``: whether it is still that of the tables."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain
from pathlib import Path

from bridge.takes.edited import EditedNote
from bridge.takes.folder import TakeFolder
from bridge.takes.inflections import inflections_csv_lines
from bridge.takes.rebuilt_tables import made_from, notes_of
from bridge.takes.tables_csv import digest_of, table_lines


def sound_digest(notes: Sequence[EditedNote]) -> str:
    """SHA-256 (FIPS 180-4) of all of the notes that a sound has, as the tables tell it; no degrees and no reeds."""
    rows = table_lines((note.id, f"{note.start_s:.5f}", f"{note.length_s:.5f}", note.midi_note) for note in notes)
    return digest_of(chain(rows, inflections_csv_lines(notes)))


def write_sung_from(path: Path, notes: Sequence[EditedNote]) -> None:
    """Write which notes were sung; raises OSError."""
    path.write_text(f"{sound_digest(notes)}\n", encoding="utf-8", newline="")


def is_sung_from(folder: TakeFolder, notes: Sequence[EditedNote]) -> bool:
    """Whether the ``resung.wav`` of a take is the sound of these notes.

    Where nothing says what it was sung from, as in a take of an older program, it was from what all was last made from.
    """
    try:
        sung = folder.sung_from.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError):
        base = made_from(folder)
        return base is not None and sound_digest(notes_of(base)) == sound_digest(notes)
    return sung == sound_digest(notes)
