"""``notes.csv`` and ``inflections.csv`` read back and checked, as they were written or as hands have left them."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from sys import intern

from bridge.base.progress import Progress, nobody
from bridge.quantise.scales import DEGREES
from bridge.takes.corners import Corners
from bridge.takes.edited import Breakpoint, EditedNote, Points
from bridge.takes.inflections import COLUMNS as INFLECTION_COLUMNS
from bridge.takes.known import Known, Versions
from bridge.takes.notes import COLUMNS as NOTE_COLUMNS
from bridge.takes.table_faults import Faults
from bridge.takes.tables_csv import TableRows, TextRow, number_in

#: Breath, 0..1, of a note that was added without saying how it moves: the middle.
PLAIN_BREATH = 0.5
#: Times have five decimals, each rounded on its own: what is off by less than two of their last digit fits, s.
_ROUNDED_S = 2e-5
#: Some days; no tick of a MIDI file of the quickest tempo has more than 32 bits then.
LONGEST_S = 3e5
MOST_ID = 10**9
MOST_CENTS = 9600.0
#: As far as any note with any bend can lie from any reed.
_MOST_FROM_REED_CENTS = 12_700.0 + MOST_CENTS
_MOST_HOLES = 16
_AIRS = ("blow", "draw")
_REEDS = ("straight", "bend", "overblow", "overdraw")
#: What a note has before its breakpoints are read, and where none is written.
_NO_POINTS, _STRAIGHT = Points(), Points([Breakpoint(0.0, 0.0, PLAIN_BREATH)])
_OR_ELSE = re.compile(r"(blow|draw) \d+( bend)?")


@dataclass(frozen=True, slots=True)
class RowFault:
    """What is wrong with a row of ``notes.csv``: the column, what was found there and what is allowed."""

    column: str
    found: object
    allowed: str


#: Tells what is wrong with a note, but for its breakpoints, for reasons that no table holds.
RowCheck = Callable[[EditedNote], Iterable[RowFault]]


@dataclass(frozen=True, slots=True)
class _Placed:
    """A note, the line that tells of it, and whether all of that line could be read."""

    line: int
    note: EditedNote
    sound: bool


def read_tables(
    notes_path: Path,
    inflections_path: Path,
    progress: Progress = nobody,
    checks: Sequence[RowCheck] = (),
    known: Versions = (),
) -> list[EditedNote]:
    """The notes in order of time, with their breakpoints in order; ``progress`` is told the part read, 0..1.

    ``checks`` look at each row of ``notes.csv`` that is right in itself. Of notes that are the same in a ``known``
    version these themselves come back.

    A note without any row in ``inflections.csv`` is straight, with a breath of 0.5. Raises UserError, or
    ManyFaultsError with all that is wrong in both files: file, line, column, what was found and what is allowed.
    """
    faults = Faults()
    held = Known(known)
    placed, ids_known = _notes(notes_path, faults, checks, held)
    points = _corners(inflections_path, placed, faults, progress, held, ids_known=ids_known)
    faults.check()
    # Taken out one by one, so that not all are there twice.
    return [_with_points(placed.pop(note_id).note, points.pop(note_id, _STRAIGHT)) for note_id in list(placed)]


def _with_points(note: EditedNote, points: Points) -> EditedNote:
    return note if note.points == points else replace(note, points=points)


class _Cells:
    """The cells of one row, each read as what its column holds; what is wrong goes to ``faults``."""

    def __init__(self, path: Path, row: TextRow, faults: Faults) -> None:
        self._path, self._row, self._faults = path, row, faults
        self.sound = True

    def number(self, column: str, low: float, high: float, unit: str = "") -> float:
        """A number from ``low`` to ``high``."""
        cell = self._row.cells[column]
        value = number_in(cell)
        if value is None or not low <= value <= high:
            self.wrong(column, cell, f"a number from {low:.7g} to {high:.7g}{unit}")
            return low
        return value

    def whole(self, column: str, low: int, high: int) -> int:
        """A whole number from ``low`` to ``high``."""
        cell = self._row.cells[column]
        value = number_in(cell)
        if value is None or not low <= value <= high or value != int(value):
            self.wrong(column, cell, f"a whole number from {low} to {high}")
            return low
        return int(value)

    def word(self, column: str, words: Sequence[str]) -> str:
        """One of ``words`` in any letters, or nothing."""
        cell = self._row.cells[column].lower()
        if cell and cell not in words:
            self.wrong(column, self._row.cells[column], f"{', '.join(words)}, or nothing")
        # The same word is in thousands of rows.
        return intern(cell)

    def text(self, column: str) -> str:
        """What stands there."""
        return intern(self._row.cells[column])

    def is_empty(self, column: str) -> bool:
        """Whether nothing stands there."""
        return not self._row.cells[column]

    def wrong(self, column: str, found: object, allowed: str) -> None:
        """Tell of a fault of this row."""
        self.sound = False
        self._faults.add(self._path, self._row.line, column, found, allowed)


def _notes(path: Path, faults: Faults, checks: Sequence[RowCheck], known: Known) -> tuple[dict[int, _Placed], bool]:
    """The notes by their id, in order of time, and whether every id is known."""
    rows = TableRows(path, NOTE_COLUMNS, faults)
    ids_known = True
    found: dict[int, _Placed] = {}
    for row in rows:
        cells = _Cells(path, row, faults)
        note_id = cells.whole("id", 1, MOST_ID)
        if not cells.sound:
            ids_known = False
            note_id = 0
        elif note_id in found:
            cells.wrong("id", note_id, f"each id once; line {found[note_id].line} has it already")
        note = known.row(_note(note_id, cells))
        for fault in (fault for check in checks for fault in check(note)) if cells.sound else ():
            cells.wrong(fault.column, fault.found, fault.allowed)
        if note_id:
            # A row that is wrong still tells that its id is known.
            found.setdefault(note_id, _Placed(row.line, note, cells.sound))
    ordered = sorted(found.values(), key=lambda one: (one.note.start_s, one.note.id))
    _check_overlaps(path, [one for one in ordered if one.sound], faults)
    return {one.note.id: one for one in ordered}, ids_known and rows.all_read


def _check_overlaps(path: Path, ordered: Sequence[_Placed], faults: Faults) -> None:
    """One note sounds at a time."""
    before: _Placed | None = None
    for one in ordered:
        if before is not None and one.note.start_s < before.note.end_s - _ROUNDED_S:
            allowed = f"from {before.note.end_s:.5f} on, where note {before.note.id} in line {before.line} ends"
            faults.add(path, one.line, "start_s", one.note.start_s, allowed)
        if before is None or one.note.end_s > before.note.end_s:
            before = one


def _note(note_id: int, cells: _Cells) -> EditedNote:
    """One row of ``notes.csv``, without its breakpoints."""
    note = EditedNote(
        id=note_id,
        start_s=cells.number("start_s", 0.0, LONGEST_S, " s"),
        length_s=cells.number("length_s", 0.0, LONGEST_S, " s"),
        midi_note=cells.whole("midi_note", 0, 127),
        degree=cells.word("degree", DEGREES),
        velocity=cells.whole("velocity", 1, 127),
        hole=None if cells.is_empty("hole") else cells.whole("hole", 1, _MOST_HOLES),
        air=cells.word("air", _AIRS),
        reed=cells.word("reed", _REEDS),
        reed_bend_cents=_reed_bend(cells),
        or_else=_other_reading(cells),
        points=_NO_POINTS,
    )
    told = (note.hole is not None, bool(note.air), bool(note.reed))
    if any(told) and not all(told):
        cells.wrong("hole, air, reed", "only some of them", "all three, or none for a note whose reed is not known")
    return note


def _reed_bend(cells: _Cells) -> float | None:
    if cells.is_empty("reed_bend_cents"):
        return None
    return cells.number("reed_bend_cents", -_MOST_FROM_REED_CENTS, _MOST_FROM_REED_CENTS, " cents")


def _other_reading(cells: _Cells) -> str:
    text = cells.text("or_else")
    if text and not _OR_ELSE.fullmatch(text):
        cells.wrong("or_else", text, "such as blow 3 or draw 1 bend, or nothing")
    return text


def _corners(
    path: Path, placed: dict[int, _Placed], faults: Faults, progress: Progress, known: Known, *, ids_known: bool
) -> dict[int, Points]:
    """The breakpoints of each note by its id."""
    found = Corners(known)
    strangers: dict[int, list[int]] = defaultdict(list)
    beyond: dict[int, list[tuple[int, float]]] = defaultdict(list)
    for row in TableRows(path, INFLECTION_COLUMNS, faults, progress):
        cells = _Cells(path, row, faults)
        note_id = cells.whole("id", 1, MOST_ID)
        point = _point(cells)
        if not cells.sound:
            continue
        if note_id not in placed:
            strangers[note_id].append(row.line)
            continue
        one = placed[note_id]
        if one.sound and point.at_s > one.note.length_s + _ROUNDED_S:
            beyond[note_id].append((row.line, point.at_s))
        elif (line := found.put(note_id, row.line, point)) is not None:
            cells.wrong("at_s", point.at_s, f"each time of note {note_id} once; line {line} has it already")
    for note_id, lines in strangers.items() if ids_known else ():
        rows = f" ({len(lines)} rows have this one; take them out)" if len(lines) > 1 else "; take this row out"
        faults.add(path, lines[0], "id", note_id, f"ids of the notes in notes.csv{rows}")
    for note_id, late in beyond.items():
        # A note that was made shorter leaves many behind its end.
        more = f" ({len(late)} rows lie beyond it; take them out)" if len(late) > 1 else "; take this row out"
        allowed = f"from 0 to {placed[note_id].note.length_s:.5f}, the length of note {note_id}{more}"
        faults.add(path, late[0][0], "at_s", late[0][1], allowed)
    return found.points()


def _point(cells: _Cells) -> Breakpoint:
    """One row of ``inflections.csv``."""
    return Breakpoint(
        cells.number("at_s", 0.0, LONGEST_S, " s"),
        cells.number("bend_cents", -MOST_CENTS, MOST_CENTS, " cents"),
        cells.number("breath", 0.0, 1.0),
    )
