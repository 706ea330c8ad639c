"""The folder of a take: the names of its files, and making one without ever touching another take."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from pathlib import Path

from bridge.base.errors import UserError
from bridge.base.printable import printable


@dataclass(frozen=True, slots=True)
class TakeFolder:
    """Where the files of one take lie."""

    path: Path

    @property
    def name(self) -> str:
        """What the take is called, as any text can hold it."""
        return printable(self.path.name)

    @property
    def description(self) -> Path:
        """Format, settings, harp and versions."""
        return self.path / "take.yaml"

    @property
    def curve(self) -> Path:
        """The pitch, frame by frame."""
        return self.path / "curve.csv"

    @property
    def notes(self) -> Path:
        """One row a note."""
        return self.path / "notes.csv"

    @property
    def inflections(self) -> Path:
        """The breakpoints of each note's curve."""
        return self.path / "inflections.csv"

    @property
    def tab(self) -> Path:
        """The notes as tab."""
        return self.path / "tab.txt"

    @property
    def midi(self) -> Path:
        """The performance as a Standard MIDI File."""
        return self.path / "performance.mid"

    @property
    def score(self) -> Path:
        """The performance as a MusicXML file."""
        return self.path / "score.musicxml"

    @property
    def played(self) -> TakeFolder:
        """Where the two tables and the MIDI file lie as they were played, whatever has been edited since."""
        return TakeFolder(self.path / "played")

    @property
    def rebuilt(self) -> TakeFolder:
        """Where the two tables lie that what is derived was last made from."""
        return TakeFolder(self.path / "rebuilt")

    @property
    def resung(self) -> Path:
        """The sound with the notes as they were edited."""
        return self.path / "resung.wav"

    @property
    def sung_from(self) -> Path:
        """Which notes that was sung from."""
        return self.rebuilt.path / "sung.txt"

    @property
    def is_new_edit(self) -> bool:
        """Whether an edit has just written its tables, and nothing was made from them yet."""
        return not (self.midi.exists() or self.played.midi.exists() or self.rebuilt.has_tables)

    @property
    def has_tables(self) -> bool:
        """Whether the tables that all else is rebuilt from are there."""
        return self.notes.exists() and self.inflections.exists()

    @property
    def before(self) -> Path:
        """The folder of the versions that were replaced, each in a folder of its own."""
        return self.path / "before"

    @property
    def journal(self) -> Path:
        """Every event of a live take, one JSON line each."""
        return self.path / "journal.jsonl"

    @property
    def sound(self) -> Path:
        """The sound as it was heard."""
        return self.path / "sound.wav"


def names(name: str) -> Iterator[str]:
    """What takes of one name are called, in the order in which the names are taken, without end."""
    yield name
    yield from (f"{name}-{number}" for number in count(2))


def check_name(name: str) -> None:
    """Raise UserError for what is no single folder name."""
    if not name or name in (".", "..") or Path(name).name != name:
        raise UserError(f"{name!r} cannot name a take: give a plain name without slashes.")


def none_made(parent: Path, error: OSError) -> UserError:
    """What to tell a user in whose folder ``parent`` no take can be made."""
    # The system's words for it, "File exists", would say the opposite of what is wrong.
    why = "it is a file" if isinstance(error, FileExistsError) else error.strerror
    return UserError(f"No take can be made in {parent} ({why}). Choose another folder.")


def new_take(parent: Path, name: str) -> TakeFolder:
    """Make the folder ``parent/name`` or, where that exists, the next free of ``name-2``, ``name-3`` ...

    ``parent`` is made when missing. Raises UserError when the name is no single folder name or nothing can be made.
    """
    check_name(name)
    try:
        parent.mkdir(parents=True, exist_ok=True)
        for wanted in names(name):
            path = parent / wanted
            try:
                path.mkdir()
            except FileExistsError:
                continue
            return TakeFolder(path)
    except OSError as error:
        raise none_made(parent, error) from error
    raise AssertionError("names() does not end")
