"""A mark in ``performance.mid`` that says which version of the tables it was made from, whoever saves it later."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import chain
from pathlib import Path

from bridge.base.errors import UserError
from bridge.takes.edited import EditedNote
from bridge.takes.inflections import inflections_csv_lines
from bridge.takes.tables_csv import digest_of, table_lines

_WORDS = "reedwire tables "
_DIGITS = 16
#: Found in the bytes of the file, wherever a sequencer has put the text.
_MARK = re.compile(rb"%s([0-9a-f]{%d})" % (_WORDS.encode(), _DIGITS))
_MARK_BYTES = len(_WORDS) + _DIGITS
_READ_BYTES = 1 << 16


def mark_of(notes: Sequence[EditedNote]) -> str:
    """The mark of a version of the tables: the same for all that a MIDI file says of them."""
    rows = table_lines(
        (note.id, f"{note.start_s:.5f}", f"{note.length_s:.5f}", note.midi_note, note.velocity) for note in notes
    )
    # A take has hundreds of versions at most, so that a part of it tells them apart.
    return _WORDS + digest_of(chain(rows, inflections_csv_lines(notes)))[:_DIGITS]


def mark_in(path: Path) -> str | None:
    """The mark in a MIDI file, None where there is none or no longer. Raises UserError for a file that is not there."""
    piece = b""
    try:
        with path.open("rb") as file:
            while read := file.read(_READ_BYTES):
                # With the end of the piece before, which may have cut the mark in two.
                piece = piece[-_MARK_BYTES:] + read
                if found := _MARK.search(piece):
                    return found[0].decode()
    except OSError as error:
        raise UserError(f"{path} cannot be read ({error.strerror}). Give a MIDI file.") from error
    return None
