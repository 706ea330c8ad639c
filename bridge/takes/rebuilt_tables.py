"""The tables that what is derived was last made from: ``rebuilt/`` or, before the first rebuild, ``played/``."""

from __future__ import annotations

import filecmp
import shutil
from collections.abc import Iterator, Sequence
from hashlib import file_digest, sha256
from pathlib import Path

from bridge.base.errors import UserError
from bridge.takes.edited import EditedNote
from bridge.takes.folder import TakeFolder
from bridge.takes.known import Versions
from bridge.takes.tables import read_tables


def made_from(folder: TakeFolder) -> TakeFolder | None:
    """Where the tables lie that the MIDI file, the score and the sound were made from; None where nobody knows."""
    return next((one for one in (folder.rebuilt, folder.played) if one.has_tables), None)


def versions_before(folder: TakeFolder, known: Versions = ()) -> Iterator[tuple[TakeFolder, Sequence[EditedNote]]]:
    """Tables that MIDI files of this take were made from earlier, and their notes: the newest first, those played last.

    Notes that are as in a ``known`` version are those.
    Tables in ``before`` that cannot be read any more, since somebody has been at them, are passed over.
    """
    kept = [path for path in folder.before.glob("*") if path.name.isdecimal()]
    for path in [*sorted(kept, key=lambda path: int(path.name), reverse=True), folder.played.path]:
        version = TakeFolder(path)
        if not version.has_tables:
            continue
        try:
            notes = notes_of(version, known)
        except UserError:
            continue
        yield version, notes


def are_edited(folder: TakeFolder, before: TakeFolder) -> bool:
    """Whether the tables say something else than those ``before``; what a spreadsheet only writes otherwise does not.

    Raises UserError or ManyFaultsError for tables that cannot be read.
    """
    if _are_alike(folder, before):
        return False
    notes = notes_of(folder)
    return notes != notes_of(before, [notes])


def notes_before(
    folder: TakeFolder, before: TakeFolder, now: Sequence[EditedNote], known: Versions = ()
) -> Sequence[EditedNote]:
    """The notes of the tables ``before``; those of ``now`` themselves where the tables are the same byte for byte."""
    return now if _are_alike(folder, before) else notes_of(before, [now, *known])


def notes_of(folder: TakeFolder, known: Versions = ()) -> Sequence[EditedNote]:
    """What the tables in a folder say; of notes that are the same in a ``known`` version these themselves.

    Raises UserError or ManyFaultsError for tables that cannot be read.
    """
    return read_tables(folder.notes, folder.inflections, known=known)


def tables_digest(folder: TakeFolder) -> str:
    """SHA-256 (FIPS 180-4) of both tables, byte for byte; one that cannot be read counts as empty."""
    digest = sha256()
    for path in (folder.notes, folder.inflections):
        try:
            with path.open("rb") as file:
                digest.update(file_digest(file, "sha256").digest())
        except OSError:
            digest.update(sha256().digest())
    return digest.hexdigest()


def _are_alike(folder: TakeFolder, before: TakeFolder) -> bool:
    pairs = ((folder.notes, before.notes), (folder.inflections, before.inflections))
    try:
        return all(filecmp.cmp(now, then, shallow=False) for now, then in pairs)
    except OSError:
        # Whoever reads them says what is wrong.
        return False


def stage_rebuilt(folder: TakeFolder, stage: Path) -> None:
    """Put the tables, those on ``stage`` where there are any, on it as those that all is made from."""
    made, rebuilt = TakeFolder(stage), TakeFolder(stage).rebuilt
    rebuilt.path.mkdir(exist_ok=True)
    for new, now, then in (
        (made.notes, folder.notes, rebuilt.notes),
        (made.inflections, folder.inflections, rebuilt.inflections),
    ):
        shutil.copyfile(new if new.exists() else now, then)
