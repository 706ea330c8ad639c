"""Notes that last no time at all: nobody hears them, so that a row of one is a slip."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property

from bridge.base.errors import UserError
from bridge.takes.edited import EditedNote
from bridge.takes.folder import TakeFolder
from bridge.takes.rebuilt_tables import notes_of
from bridge.takes.tables import RowFault


class Lasting:
    """Tells of notes without length that were not played so in the take in ``folder``.

    A player who was stopped the moment a note began has left one that he cannot help.
    """

    def __init__(self, folder: TakeFolder) -> None:
        self._folder = folder

    def __call__(self, note: EditedNote) -> Iterator[RowFault]:
        """What is wrong with the length of a note."""
        if note.length_s == 0.0 and note.id not in self._played_so:
            yield RowFault("length_s", note.length_s, "more than 0 s; to take a note out, take out its row")

    @cached_property
    def _played_so(self) -> frozenset[int]:
        try:
            played = notes_of(self._folder.played) if self._folder.played.has_tables else ()
        except UserError:
            return frozenset()
        return frozenset(note.id for note in played if note.length_s == 0.0)
