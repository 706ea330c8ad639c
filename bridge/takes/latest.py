"""How late the notes of a take may be: a slip in a time makes no gigabytes of silence."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property

from bridge.base.errors import UserError
from bridge.takes.edited import EditedNote
from bridge.takes.folder import TakeFolder
from bridge.takes.rebuilt_tables import notes_of
from bridge.takes.sound import MOST_BYTES
from bridge.takes.sound_reading import SampleFile
from bridge.takes.tables import RowFault

#: So long after the end of its sound, and of what was played, a note of a take may end, seconds.
MOST_AFTER_S = 600.0
#: Bytes of a sample in a sound.wav of ours or of a stranger's, at most: 32 bits.
_SAMPLE_BYTES = 4


class Latest:
    """Tells of notes that end too late for the sound of the take in ``folder``; of none where there is no sound."""

    def __init__(self, folder: TakeFolder) -> None:
        self._folder = folder

    def __call__(self, note: EditedNote) -> Iterator[RowFault]:
        """What is wrong with the times of a note, by its column."""
        if self._sound is None or (note.end_s <= self._sound[0] + MOST_AFTER_S and note.end_s <= self._sound[1]):
            return
        latest_s = self._latest_s
        if note.end_s <= latest_s:
            return
        column, found = ("start_s", note.start_s) if note.start_s > latest_s else ("length_s", note.length_s)
        most_s = latest_s - (0.0 if column == "start_s" else note.start_s)
        yield RowFault(
            column,
            found,
            f"up to {most_s:.5f} s, as the sound of the take ends at {self._sound[0]:.5f} s and a note may end "
            f"{MOST_AFTER_S / 60.0:g} minutes later, within the {self._sound[1] / 3600.0:.1f} hours of a WAV file",
        )

    @cached_property
    def _sound(self) -> tuple[float, float] | None:
        """Where the sound ends, and the longest that its file could be, seconds; None for no sound to be read."""
        if not self._folder.sound.exists():
            return None
        try:
            with SampleFile(self._folder.sound) as file:
                return file.count / file.rate, MOST_BYTES / _SAMPLE_BYTES / file.rate
        except UserError:
            return None

    @cached_property
    def _latest_s(self) -> float:
        """The latest end of a note, seconds. Where the sound was cut short, by a full disk, the notes went on."""
        if self._sound is None:
            return float("inf")
        end_s, most_s = self._sound
        try:
            played = notes_of(self._folder.played) if self._folder.played.has_tables else ()
        except UserError:
            played = ()
        last_s = max((note.end_s for note in played), default=0.0)
        return max(min(max(end_s, last_s) + MOST_AFTER_S, most_s), end_s, last_s)
