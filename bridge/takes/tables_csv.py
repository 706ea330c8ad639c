"""A table of a take as text, also as a spreadsheet or an editor leaves it.

Taken are UTF-8 with or without a mark at its beginning and UTF-16 with one, LF or CRLF, commas, semicolons or tabs
between the cells, decimal points or commas, quoted cells, columns in any order, empty rows and empty columns.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import BinaryIO, TextIO

from bridge.base.progress import Progress, nobody
from bridge.takes.table_faults import Faults

_SEPARATORS = (",", ";", "\t")
#: A line that spreadsheets write above a table to say what stands between its cells.
_SAYS_SEPARATOR = re.compile(r'"?sep=(.)"?', re.IGNORECASE)
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?")
_MINUS = "\u2212"
#: So many lines are read between two words on how far one is.
_TOLD_EACH = 1000
#: Bytes of a file that are looked at at once.
_BLOCK = 1 << 16


@dataclass(frozen=True, slots=True)
class TextRow:
    """A row: its ``line`` in the file, from 1, and its cells by the name of their column."""

    line: int
    cells: Mapping[str, str]


class TableRows:
    """The rows of the table ``path`` one after another, each with a cell for all ``columns``.

    No more than the one in hand is in memory. What is wrong goes to ``faults``; they end where the table cannot be
    read any further, and :attr:`all_read` is then False. ``progress`` is told the part read, 0..1.
    """

    def __init__(self, path: Path, columns: Sequence[str], faults: Faults, progress: Progress = nobody) -> None:
        self._path, self._columns, self._faults, self._progress = path, columns, faults, progress
        self.all_read = False

    def __iter__(self) -> Iterator[TextRow]:
        try:
            with self._path.open("rb") as data:
                encoding, lines = _looked_through(data)
                # Somebody may save another one meanwhile: what is no text then is told of its cell.
                with io.TextIOWrapper(data, encoding, errors="replace", newline="") as file:
                    yield from self._rows(file, lines)
        except OSError as error:
            self._say(None, f"it cannot be read ({error.strerror}). Check the file and its rights.")
        except _NoTextError as error:
            self._say(error.line, "found bytes that are no UTF-8 text. Save the table as CSV in UTF-8.")

    def _rows(self, file: TextIO, lines: int) -> Iterator[TextRow]:
        """The rows of an open file of so many lines."""
        file.seek(0)
        separator, first = _separator(file)
        file.seek(0)
        for _ in range(first):
            file.readline()
        reader = csv.reader(file, delimiter=separator, strict=True)
        names: list[str] | None = None
        line = first + 1
        try:
            for cells in reader:
                stripped = [cell.strip() for cell in cells]
                if any(stripped):
                    if names is None:
                        names = [cell.lower() for cell in stripped]
                        if not _columns_are_right(self._path, line, names, self._columns, self._faults):
                            return
                    else:
                        yield _row(self._path, line, names, stripped, self._faults)
                line = first + reader.line_num + 1
                if line % _TOLD_EACH == 0:
                    self._progress(min(line / lines, 1.0))
        except csv.Error as error:
            self._say(line, f"this row cannot be read ({error}). Look for a quotation mark that is not closed.")
            return
        if names is None:
            self._say(1, f"found nothing, allowed: a table with the columns {','.join(self._columns)}.")
        self.all_read = names is not None

    def _say(self, line: int | None, text: str) -> None:
        self._faults.say(self._path, line, text)


def table_lines(rows: Iterable[Sequence[object]]) -> Iterator[str]:
    """Rows as they are written, the names of the columns being the first of a table: commas and LF."""
    return map(csv.writer(_Line(), lineterminator="\n").writerow, rows)


def table_text(rows: Iterable[Sequence[object]]) -> str:
    """The same as one text."""
    return "".join(table_lines(rows))


def write_lines(path: Path, lines: Iterable[str]) -> None:
    """Write a table that is never in memory as a whole. Raises OSError."""
    with path.open("w", encoding="utf-8", newline="") as file:
        file.writelines(lines)


def digest_of(lines: Iterable[str]) -> str:
    """SHA-256 (FIPS 180-4) of all of these lines, in UTF-8 and as hexadecimal digits."""
    digest = sha256()
    for line in lines:
        digest.update(line.encode())
    return digest.hexdigest()


class _Line:
    """A file that hands back what is written to it."""

    @staticmethod
    def write(text: str) -> str:
        return text


def number_in(cell: str) -> float | None:
    """The number in a cell, with a decimal point or comma; None where there is none."""
    plain = cell.replace(_MINUS, "-")
    return float(plain.replace(",", ".")) if _NUMBER.fullmatch(plain) else None


class _NoTextError(Exception):
    """There are bytes in ``line`` of a file that are no text."""

    def __init__(self, line: int) -> None:
        super().__init__(line)
        self.line = line


def _looked_through(data: BinaryIO) -> tuple[str, int]:
    """The encoding of a file, which is text to its end, and how many lines it has. Raises _NoTextError, OSError."""
    encoding = "utf-16" if data.read(2) in {b"\xff\xfe", b"\xfe\xff"} else "utf-8-sig"
    data.seek(0)
    decoder, lines, block = codecs.getincrementaldecoder(encoding)(), 1, b""
    try:
        while block := data.read(_BLOCK):
            decoder.decode(block)
            lines += block.count(b"\n")
        decoder.decode(b"", final=True)
    except UnicodeDecodeError as error:
        # What it was given ends with the block, and may begin with the half of a letter from the one before.
        beyond = error.object[error.start :].count(b"\n")
        raise _NoTextError(lines + block.count(b"\n") - beyond) from error
    return encoding, lines


def _separator(lines: TextIO) -> tuple[str, int]:
    """What stands between the cells, and how many lines there are above the table."""
    if said := _SAYS_SEPARATOR.fullmatch(lines.readline().strip()):
        return said[1], 1
    lines.seek(0)
    header = next((line for line in lines if line.strip()), "")
    # The names of the columns have none of these in them, so that the one that is there most often is it.
    return max(_SEPARATORS, key=header.count), 0


def _columns_are_right(path: Path, line: int, names: list[str], columns: Sequence[str], faults: Faults) -> bool:
    """Whether every column is there once and none that the table does not have."""
    allowed = ",".join(columns)
    if not set(columns) & set(names):
        faults.say(path, line, f"the names of the columns are missing. Put this line above the table: {allowed}")
        return False
    missing = [column for column in columns if column not in names]
    for column in missing:
        faults.say(path, line, f"the column {column} is missing. The columns are {allowed}, in any order.")
    named = [name for name in names if name]
    odd = [name for name in dict.fromkeys(named) if name not in columns or named.count(name) > 1]
    for name in odd:
        what = "is there twice; keep one" if name in columns else "is none of this table; take it out"
        faults.say(path, line, f"the column {name!r} {what}. The columns are {allowed}, in any order.")
    return not missing and not odd


def _row(path: Path, line: int, names: Sequence[str], cells: Sequence[str], faults: Faults) -> TextRow:
    """The cells by their names; those that a short row lacks are empty."""
    beyond = [cell for place, cell in enumerate(cells) if cell and (place >= len(names) or not names[place])]
    for cell in beyond:
        faults.add(path, line, "a column without a name", cell, "nothing")
    filled = [*cells, *[""] * (len(names) - len(cells))]
    return TextRow(line, {name: cell for name, cell in zip(names, filled, strict=False) if name})
