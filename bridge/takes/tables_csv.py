"""A table of a take as text, also as a spreadsheet or an editor leaves it.

Taken are UTF-8 with or without a mark at its beginning and UTF-16 with one, LF or CRLF, commas, semicolons or tabs
between the cells, decimal points or commas, quoted cells, columns in any order, empty rows and empty columns.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from bridge.base.progress import Progress, nobody
from bridge.takes.table_faults import Faults

_SEPARATORS = (",", ";", "\t")
#: A line that spreadsheets write above a table to say what stands between its cells.
_SAYS_SEPARATOR = re.compile(r'"?sep=(.)"?', re.IGNORECASE)
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?")
_MINUS = "\u2212"
#: So many lines are read between two words on how far one is.
_TOLD_EACH = 1000


@dataclass(frozen=True, slots=True)
class TextRow:
    """A row: its ``line`` in the file, from 1, and its cells by the name of their column."""

    line: int
    cells: Mapping[str, str]


def read_rows(path: Path, columns: Sequence[str], faults: Faults) -> list[TextRow]:
    """The rows of the table ``path``, each with a cell for all ``columns``.

    What is wrong goes to ``faults``; of a table that cannot be read to its end there are no rows.
    """
    try:
        return list(_rows(path, columns, faults, nobody))
    except _UnreadableError as error:
        faults.say(path, error.line, str(error))
        return []


def each_row(path: Path, columns: Sequence[str], faults: Faults, progress: Progress = nobody) -> Iterator[TextRow]:
    """The same one after another, for long tables: no more of them than that is in memory.

    It ends where the table cannot be read any further. ``progress`` is told the part read, 0..1.
    """
    try:
        yield from _rows(path, columns, faults, progress)
    except _UnreadableError as error:
        faults.say(path, error.line, str(error))


class _UnreadableError(Exception):
    """A table cannot be read from ``line`` on."""

    def __init__(self, line: int, error: csv.Error) -> None:
        self.line = line
        super().__init__(f"this row cannot be read ({error}). Look for a quotation mark that is not closed.")


def _rows(path: Path, columns: Sequence[str], faults: Faults, progress: Progress) -> Iterator[TextRow]:
    """The rows; none of a table that cannot be read at all. Raises _UnreadableError."""
    text = _text(path, faults)
    if text is None:
        return
    separator, first = _separator(text)
    lines, file = text.count("\n") + 1, io.StringIO(text, newline="")
    del text
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
                    if not _columns_are_right(path, line, names, columns, faults):
                        return
                else:
                    yield _row(path, line, names, stripped, faults)
            line = first + reader.line_num + 1
            if line % _TOLD_EACH == 0:
                progress(min(line / lines, 1.0))
    except csv.Error as error:
        raise _UnreadableError(line, error) from error
    if names is None:
        faults.say(path, 1, f"found nothing, allowed: a table with the columns {','.join(columns)}.")


def table_text(rows: Iterable[Sequence[object]]) -> str:
    """Rows as they are written, the names of the columns being the first of a table: commas and LF."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue()


def number_in(cell: str) -> float | None:
    """The number in a cell, with a decimal point or comma; None where there is none."""
    plain = cell.replace(_MINUS, "-")
    return float(plain.replace(",", ".")) if _NUMBER.fullmatch(plain) else None


def _text(path: Path, faults: Faults) -> str | None:
    """The file as text, None where it cannot be read."""
    try:
        data = path.read_bytes()
    except OSError as error:
        faults.say(path, None, f"it cannot be read ({error.strerror}). Check the file and its rights.")
        return None
    encoding = "utf-16" if data[:2] in {b"\xff\xfe", b"\xfe\xff"} else "utf-8-sig"
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        faults.say(path, line, "found bytes that are no UTF-8 text. Save the table as CSV in UTF-8.")
        return None


def _separator(text: str) -> tuple[str, int]:
    """What stands between the cells, and how many lines there are above the table."""
    lines = io.StringIO(text, newline="")
    if said := _SAYS_SEPARATOR.fullmatch(lines.readline().strip()):
        return said[1], 1
    lines.seek(0)
    header = next((line for line in lines if line.strip()), "")
    # The names of the columns have none of these in them, so that the one that is there most often is it.
    return max(_SEPARATORS, key=header.count), 0


def _columns_are_right(path: Path, line: int, names: list[str], columns: Sequence[str], faults: Faults) -> bool:
    """Whether every column is there once and none that the table does not have."""
    allowed = ",".join(columns)
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
