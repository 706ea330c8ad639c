"""The tables that what is derived was last made from: ``rebuilt/`` or, before the first rebuild, ``played/``."""

from __future__ import annotations

import filecmp
import shutil
from pathlib import Path

from bridge.takes.folder import TakeFolder
from bridge.takes.tables import read_tables


def made_from(folder: TakeFolder) -> TakeFolder | None:
    """Where the tables lie that the MIDI file, the score and the sound were made from; None where nobody knows."""
    return next((one for one in (folder.rebuilt, folder.played) if one.has_tables), None)


def are_edited(folder: TakeFolder, before: TakeFolder) -> bool:
    """Whether the tables say something else than those ``before``; what a spreadsheet only writes otherwise does not.

    Raises UserError or ManyFaultsError for tables that cannot be read.
    """
    pairs = ((folder.notes, before.notes), (folder.inflections, before.inflections))
    if all(filecmp.cmp(now, then, shallow=False) for now, then in pairs):
        return False
    return read_tables(folder.notes, folder.inflections) != read_tables(before.notes, before.inflections)


def stage_rebuilt(folder: TakeFolder, stage: Path) -> None:
    """Put the tables, those on ``stage`` where there are any, on it as those that all is made from."""
    made, rebuilt = TakeFolder(stage), TakeFolder(stage).rebuilt
    rebuilt.path.mkdir()
    for new, now, then in (
        (made.notes, folder.notes, rebuilt.notes),
        (made.inflections, folder.inflections, rebuilt.inflections),
    ):
        shutil.copyfile(new if new.exists() else now, then)
