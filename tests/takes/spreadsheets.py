"""What spreadsheets and editors make of a table: the same rows in other clothes."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable

Rows = list[list[str]]
#: Makes a file of a table, given as the program writes it.
Saving = Callable[[str], bytes]


def rows_of(table: str) -> Rows:
    """The cells of a table, the names of its columns first."""
    return list(csv.reader(io.StringIO(table, newline="")))


def written(rows: Rows, separator: str = ",", end: str = "\n", *, quoted: bool = False) -> str:
    """The cells as text again."""
    text = io.StringIO(newline="")
    csv.writer(
        text, delimiter=separator, lineterminator=end, quoting=csv.QUOTE_ALL if quoted else csv.QUOTE_MINIMAL
    ).writerows(rows)
    return text.getvalue()


def with_decimal_commas(table: str) -> Rows:
    """The cells with a comma in every number."""
    return [[cell.replace(".", ",") for cell in row] for row in rows_of(table)]


def reordered(table: str) -> Rows:
    """The columns the other way round."""
    return [row[::-1] for row in rows_of(table)]


def padded(table: str) -> Rows:
    """Empty columns at the end, empty rows between and below."""
    rows = [[*row, "", " "] for row in rows_of(table)]
    empty = [""] * len(rows[0])
    return [rows[0], empty, *rows[1:], empty, []]


SAVINGS: dict[str, Saving] = {
    "as it is": lambda table: table.encode(),
    "a mark at the beginning": lambda table: b"\xef\xbb\xbf" + table.encode(),
    "CRLF": lambda table: table.replace("\n", "\r\n").encode(),
    "no last line end": lambda table: table.rstrip("\n").encode(),
    "semicolons and decimal commas": lambda table: written(with_decimal_commas(table), ";", "\r\n").encode("utf-8-sig"),
    "semicolons and decimal points": lambda table: written(rows_of(table), ";").encode(),
    "tabs": lambda table: written(rows_of(table), "\t").encode(),
    "tabs in UTF-16": lambda table: written(with_decimal_commas(table), "\t", "\r\n").encode("utf-16"),
    "all quoted": lambda table: written(rows_of(table), quoted=True).encode(),
    "commas and quoted decimal commas": lambda table: written(with_decimal_commas(table)).encode(),
    "a line that says the separator": lambda table: ("sep=;\r\n" + written(rows_of(table), ";", "\r\n")).encode(),
    "reordered columns": lambda table: written(reordered(table)).encode(),
    "empty columns and rows": lambda table: written(padded(table)).encode(),
    "names in capitals": lambda table: (table.split("\n", 1)[0].upper() + "\n" + table.split("\n", 1)[1]).encode(),
    "rows sorted from the last": lambda table: written([rows_of(table)[0], *rows_of(table)[:0:-1]]).encode(),
}
