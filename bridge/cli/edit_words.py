"""What an edit changes, in a table: one line a note, and only the columns in which something changes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from sys import intern

from bridge.cli.options import counted
from bridge.harp.note_names import note_name
from bridge.takes.differing import Change
from bridge.takes.edited import EditedNote
from bridge.takes.finished import signed
from bridge.takes.settled import settled
from bridge.wiring.editing import Edit

_TO = " -> "
_NONE = "-"
_CANNOT = "cannot be played"


@dataclass(frozen=True, slots=True)
class _Column:
    """A heading and how a note stands under it; ``always`` it is shown although nothing changes in it."""

    heading: str
    unit: str
    words: Callable[[EditedNote], str]
    always: bool = False
    #: The same for the note as it is afterwards, where that is another harp's.
    words_after: Callable[[EditedNote], str] | None = None


def difference_lines(edit: Edit) -> list[str]:
    """The table with its headings, units below them; nothing where nothing changes."""
    # What is left out of a cut, and what stands in a joined take, is told in a sentence.
    changes = [] if edit.name == "join" else [change for change in edit.changes if change.after is not None]
    if not changes:
        return []
    table = [["note", "", *map(_number, changes)]]
    # Column by column: those that are not shown need not be held, and most cells of one are in it many times.
    for column in _columns(edit):
        cells = [intern(_cell(change, column)) for change in changes]
        if column.always or any(_TO in cell for cell in cells):
            table.append([column.heading, column.unit, *cells])
    widths = [max(map(len, cells)) for cells in table]
    rows = zip(*table, strict=True)
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]


def summary(edit: Edit) -> str:
    """How much changes, in one sentence."""
    if edit.name == "join":
        return f"{len(edit.takes)} takes joined: {counted(len(edit.notes))}."
    before = edit.takes[0].notes
    if edit.name == "cut":
        return f"{len(edit.notes)} of {counted(len(before))} kept."
    changed = len(edit.changes)
    return f"{changed} of {counted(len(before))} changed." if changed else f"None of {counted(len(before))} changed."


def _columns(edit: Edit) -> Sequence[_Column]:
    """What can be told of a note, by the harp it was on before."""
    take = edit.takes[0]
    harp = take.harps[0].harp
    root = None if harp is None else harp.root_midi
    above = _above_root(lambda note: None if (held := take.harp_at(note)) is None else held.root_midi)
    above_after = above if edit.root_midi is None else _above_root(lambda _: edit.root_midi)
    return (
        _Column("start", "s", lambda note: f"{note.start_s:.3f}", always=True),
        _Column("length", "s", lambda note: f"{note.length_s:.3f}"),
        _Column("note", "", _named_over(root), always=True, words_after=_named_over(edit.root_midi or root)),
        _Column("degree", "", lambda note: note.degree, always=True),
        _Column("hole", "", _hole, words_after=lambda note: _CANNOT if note.id in edit.unplayable else _hole(note)),
        _Column("above root", "cents", above, words_after=above_after),
        _Column("settles", "cents", lambda note: signed(settled(note).bend_cents)),
        _Column("lowest", "cents", lambda note: signed(note.columns[1].min())),
        _Column("highest", "cents", lambda note: signed(note.columns[1].max())),
        _Column("corners", "", lambda note: str(len(note.points))),
    )


def _number(change: Change) -> str:
    """The number of the note."""
    return str(next(note.id for note in (change.before, change.after) if note is not None))


def _cell(change: Change, column: _Column) -> str:
    """What stands of a note in a column."""
    before = _NONE if change.before is None else column.words(change.before)
    after = _NONE if change.after is None else (column.words_after or column.words)(change.after)
    return before if before == after else f"{before}{_TO}{after}"


def _named_over(root_midi: int | None) -> Callable[[EditedNote], str]:
    """The names of notes over a root."""
    return lambda note: note_name(note.midi_note, root_midi)


def _above_root(root_of: Callable[[EditedNote], int | None]) -> Callable[[EditedNote], str]:
    """Where notes settle above the root, within an octave, as ``settle --at`` counts; a little below it is below 0."""

    def words(note: EditedNote) -> str:
        root = root_of(note)
        if root is None:
            return _NONE
        cents = 100.0 * (note.midi_note - root) + settled(note).bend_cents
        return str(round((cents + 50.0) % 1200.0 - 50.0))

    return words


def _hole(note: EditedNote) -> str:
    """The hole, its air, and how it is played where that is not straight."""
    if note.hole is None:
        return _NONE
    return f"{note.air} {note.hole}" + ("" if note.reed in {"", "straight"} else f" {note.reed}")
