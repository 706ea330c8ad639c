"""A take whose writer was stopped, made whole with the settings and the harps that it says it was played with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from pydantic import ValidationError

from bridge.base.errors import UserError
from bridge.base.progress import Progress, nobody
from bridge.base.writing import write_safely
from bridge.harp.harp import Harp
from bridge.send.pitch import sent_pitch
from bridge.takes.folder import TakeFolder
from bridge.takes.held import is_held
from bridge.takes.recovery import Recovered, recover
from bridge.takes.replacing import end_replacing
from bridge.takes.score import ScoreStyle
from bridge.takes.tables import read_tables
from bridge.takes.take_yaml import read_take_file
from bridge.takes.tempo import read_told_tempo
from bridge.takes.tempo_choice import KnownTempo
from bridge.wiring.notice import Notice
from bridge.wiring.settings import Settings
from bridge.wiring.told_harps import harp_from_facts, told_harps

#: How spreadsheets name files of their own kind.
_SPREADSHEETS = (".xlsx", ".xls", ".ods")


def recover_take(path: Path, notice: Notice, progress: Progress = nobody) -> Recovered:
    """Make what is missing of the take in the folder ``path``; ``notice`` is told what could not be known any more.

    Tables that are gone come back as they were last rebuilt or else played, of a recording too, which has no journal.
    ``progress`` is told the part done, 0..1. Raises UserError for what is no take, for what nothing is left to make it
    from, and for files that cannot be read or written.
    """
    folder = take_folder(path)
    end_stopped(folder, notice)
    tell_of_spreadsheets(folder, notice)
    done = recover_tables(folder, notice, progress)
    missing = [file.name for file in (folder.tab, folder.midi, folder.score) if not file.exists()]
    if missing:
        raise UserError(f"{path} has no {' and no '.join(missing)}. Make that from its tables: reedwire rebuild {path}")
    return done


def end_stopped(folder: TakeFolder, notice: Notice) -> None:
    """Bring a rebuilding that was stopped to its end; ``notice`` is told where that was in the midst of replacing."""
    if end_replacing(folder):
        notice(f"{folder.path}: a rebuild was stopped while it put its files in place; that is done now.")


def recover_tables(folder: TakeFolder, notice: Notice, progress: Progress = nobody) -> Recovered:
    """The same where only the tables are needed: what follows from them may still be missing."""
    # Nothing is made by a harp or a tempo that nobody meant.
    played = told_harps(read_take_file(folder.description), notice)
    read_told_tempo(folder.description)
    put_back = _put_back(folder, notice)
    if folder.journal.exists():
        done = _from_journal(folder, played[0].harp, notice, progress)
        return replace(done, made=(*put_back, *done.made), put_back=put_back)
    for path in (folder.notes, folder.inflections):
        if not path.exists():
            raise UserError(
                f"{folder.path} has no {path.name}, and neither {folder.journal.name} nor {folder.played.path.name}/"
                f"{path.name} to make that from. Put it back, or transcribe the recording again."
            )
    notes = read_tables(folder.notes, folder.inflections, progress)
    return Recovered(len(notes), notes[-1].end_s if notes else 0.0, put_back, put_back)


def _put_back(folder: TakeFolder, notice: Notice) -> tuple[str, ...]:
    """Put tables that are gone back as all was last made from them, or else as they were played; their names."""
    made = []
    for name in (folder.notes.name, folder.inflections.name):
        path = folder.path / name
        kept = next((kept for kept in (folder.rebuilt, folder.played) if (kept.path / name).exists()), None)
        if path.exists() or kept is None:
            continue
        try:
            write_safely(path, (kept.path / name).read_bytes())
        except OSError as error:
            raise UserError(f"{path} cannot be written ({error.strerror}). Check its rights and the disk.") from error
        how = "the take was last rebuilt" if kept == folder.rebuilt else "the take was played"
        more = f"; other versions lie in {folder.before}" if folder.before.exists() else ""
        notice(f"{path} was gone. It was put back from {kept.path}, as it was when {how}{more}.")
        made.append(name)
    return tuple(made)


def tell_of_spreadsheets(folder: TakeFolder, notice: Notice) -> None:
    """Say of tables that a spreadsheet has saved as its own kind that they are not read, where they are the newer."""
    for table in (folder.notes, folder.inflections):
        for kind in _SPREADSHEETS:
            other = table.with_suffix(kind)
            if other.exists() and not (table.exists() and table.stat().st_mtime >= other.stat().st_mtime):
                notice(f"{other} is not read. Save it as CSV, as {table}, to have what was edited in it.")


def _from_journal(folder: TakeFolder, harp: Harp | None, notice: Notice, progress: Progress) -> Recovered:
    """Make what is missing of what was appended, by a player who began on ``harp``."""
    document = read_take_file(folder.description).data
    settings = settings_of(document, notice)

    def harp_of(facts: Mapping[str, object]) -> Harp | None:
        return harp_from_facts(facts, notice)

    told = read_told_tempo(folder.description)
    return recover(
        folder,
        midi=settings.send.midi,
        pitch=sent_pitch(settings.send, harp.sharp_cents if harp is not None else 0.0),
        harp=harp,
        tab=settings.harp.tab,
        program=settings.takes.midi_program,
        tolerance=settings.takes.breakpoint_tolerance,
        harp_of=harp_of,
        tempo=None if told is None else KnownTempo(*told),
        tempo_settings=settings.takes,
        style=ScoreStyle(settings.takes.slide_cents, settings.quantise.also_blue),
        progress=progress,
    )


def take_folder(path: Path) -> TakeFolder:
    """The take in the folder ``path``. Raises UserError where there is none, and while it is still being written."""
    folder = TakeFolder(path)
    if not path.is_dir():
        raise UserError(f"{path} is no folder. Give the folder of a take.")
    if not folder.description.exists():
        raise UserError(f"{path} holds no take.yaml, so it is no take. Give the folder of one.")
    if is_held(folder):
        raise UserError(f"{path} is still being written. End what writes it first, then open the take.")
    return folder


def settings_of(document: Mapping[str, object], notice: Notice) -> Settings:
    """The settings it was played with; those of today where an older or newer program had others."""
    try:
        return Settings.model_validate(document.get("settings", {}))
    except ValidationError as error:
        where = ".".join(map(str, error.errors()[0]["loc"]))
        notice(f"The take's settings are of another version ({where}); the usual ones stand in for them.")
        return Settings()
