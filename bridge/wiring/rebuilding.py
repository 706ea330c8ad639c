"""What is derived from a take's tables, made anew from the tables as they are now."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from bridge.base.errors import ManyFaultsError, UserError
from bridge.base.progress import Progress, share
from bridge.takes.edited import Breakpoint, EditedNote
from bridge.takes.folder import TakeFolder
from bridge.takes.inflections import inflections_csv_lines
from bridge.takes.known import Versions
from bridge.takes.lasting import Lasting
from bridge.takes.latest import Latest
from bridge.takes.notes import as_row, notes_csv_lines
from bridge.takes.rebuilt_tables import made_from, notes_before, stage_rebuilt, tables_digest
from bridge.takes.replacing import Stage, stage_for
from bridge.takes.sung_from import write_sung_from
from bridge.takes.tab_file import tab_text
from bridge.takes.tables import PLAIN_BREATH, RowCheck
from bridge.takes.tables_csv import write_lines
from bridge.takes.take_yaml import put_tempo
from bridge.takes.taking_back import TakenBack
from bridge.takes.tempo_choice import KnownTempo
from bridge.wiring.from_sequencer import taken_from
from bridge.wiring.midi_making import copy_midi, is_as_played, make_midi
from bridge.wiring.notice import Notice
from bridge.wiring.opening import OpenedTake, opened_take
from bridge.wiring.resung_making import NAME as RESUNG
from bridge.wiring.resung_making import is_another_to_hear, is_wanted, make_resung
from bridge.wiring.score_making import make_score
from bridge.wiring.told_columns import tell_columns

#: Makes one derived file of a take, at the path given.
Maker = Callable[[OpenedTake, Path, Progress], None]

#: How much of the work it is to open the take, and to take a MIDI file back.
_OPENED = 0.3
#: The tables that all was made from, which are kept with what was made, and what the sound was sung from.
_BASE = ("rebuilt/notes.csv", "rebuilt/inflections.csv", "rebuilt/sung.txt")


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """What came of it: notes, seconds to the end of the last one, the names of the files that changed.

    ``told`` are the ids of notes that were edited by hand and of which the table tells another degree or reed by that.
    ``before`` is the folder of the versions that were replaced, None where none was; ``taken`` what came back from a
    sequencer, None where nothing was asked for; ``as_played`` whether the MIDI file is the one that was played.
    ``soundless`` is whether what was edited could not be sung, there being no sound.
    """

    notes: int
    seconds: float
    changed: tuple[str, ...]
    told: frozenset[int]
    before: Path | None
    taken: TakenBack | None
    as_played: bool
    soundless: bool


def rebuild_take(
    path: Path,
    notice: Notice,
    *,
    from_midi: Path | None = None,
    mpe: bool = False,
    sing: bool = True,
    tempo_of: Callable[[OpenedTake], KnownTempo] | None = None,
    progress: Progress = lambda _: None,
    held: Versions = (),
) -> Rebuilt:
    """Make all that is derived from the tables of the take in ``path`` anew.

    ``from_midi`` is a file whose notes are taken back into the tables first; ``mpe`` puts the notes of the MIDI file
    into an MPE zone; ``sing`` also sings the sound again where something in it was edited; ``tempo_of`` gives the
    take another tempo; ``held`` are versions of it that are in memory anyway. Of notes that were edited
    by hand the table itself is told degree and reed anew, but for what the player wrote there. Nothing is written over
    until everything is made, and what was there is kept in ``before``; ``notice`` hears what could not be sung. Raises
    UserError for what cannot be used or written, and for tables that somebody saves meanwhile, ManyFaultsError with all
    that is wrong in the tables.
    """
    opened = _OPENED if from_midi is None else _OPENED / 2.0
    take = opened_take(path, notice, share(progress, 0.0, opened), held)
    base = made_from(take.folder)
    before = None if base is None else notes_before(take.folder, base, take.notes, held)
    told = take.untold
    if before is not None and not take.folder.is_new_edit:
        take, told = tell_columns(take, before)
    taken = None
    if from_midi is not None:
        taken = taken_from(take, from_midi, notice, share(progress, opened, _OPENED))
        _check_times(take.folder, from_midi, taken.notes)
        take = take.with_notes(taken.notes, retold=taken.untold)
    known = None if tempo_of is None else tempo_of(take)
    if known is not None:
        take = replace(take, tempo=known.told)
    as_played = not mpe and is_as_played(take)
    makers = _makers(copy_midi if as_played else partial(make_midi, mpe=mpe))
    makers |= _table_makers(taken, told)
    if known is not None:
        makers["take.yaml"] = lambda take, path, _: put_tempo(take.folder.description, known.facts(), path)
    if sing and is_wanted(take):
        makers[RESUNG] = lambda take, path, progress: make_resung(take, path, progress, notice)
    making = share(progress, _OPENED, 1.0)
    edited = before is None or bool(told) or take.notes != tuple(before)
    with stage_for(take.folder) as stage:
        for number, (name, make) in enumerate(makers.items()):
            make(take, stage.path / name, share(making, number / len(makers), (number + 1) / len(makers)))
        if edited:
            stage_rebuilt(take.folder, stage.path)
        if RESUNG in makers:
            _stage_sung_from(take, stage)
        kept = _kept(take.folder, base) if edited else {}
        # The sound is large, and follows from the tables, which are kept where they were edited.
        _check_as_read(take)
        stage.put_in_place(kept, not_kept=(*_BASE, *kept, *((RESUNG,) if base is not None else ())))
    if before is not None:
        _tell_of_lost_bends(take, before, stage.before or take.folder.played.path, notice)
    progress(1.0)
    seconds = take.notes[-1].end_s if take.notes else 0.0
    changed = tuple(name for name in stage.changed if name not in _BASE)
    soundless = sing and not take.folder.sound.exists() and is_another_to_hear(take)
    return Rebuilt(len(take.notes), seconds, changed, told, stage.before, taken, as_played, soundless)


def _tell_of_lost_bends(take: OpenedTake, before: Sequence[EditedNote], kept: Path, notice: Notice) -> None:
    """Say that a table without any breakpoint has left all notes straight that were not."""
    straight = (Breakpoint(0.0, 0.0, PLAIN_BREATH),)
    old = {note.id: note.points for note in before}
    lost = [note for note in take.notes if old.get(note.id, straight) != straight]
    if lost and all(note.points == straight for note in take.notes):
        many = f"{len(lost)} notes: their bends are" if len(lost) > 1 else "1 note: its bends are"
        notice(f"{take.folder.inflections}: no breakpoints for {many} gone. The version before is in {kept}.")


def _kept(folder: TakeFolder, base: TakeFolder | None) -> dict[str, Path]:
    """The tables to keep that all was made from; an edit has just made a take of which nothing was made yet."""
    if base is None or not folder.midi.exists():
        return {}
    return {path.name: path for path in (base.notes, base.inflections)}


def _check_as_read(take: OpenedTake) -> None:
    """Raise UserError for tables that are others by now: what would be written over is in no copy yet."""
    if tables_digest(take.folder) != take.digest:
        raise UserError(
            f"{take.folder.path}: its tables were saved while it was rebuilt, so nothing was written. Run it once more."
        )


def _check_times(folder: TakeFolder, path: Path, notes: Sequence[EditedNote]) -> None:
    """Raise UserError for notes of a MIDI file that no table may hold: of no length, or far too late."""
    checks: tuple[RowCheck, ...] = (Latest(folder), Lasting(folder))
    errors = [
        UserError(f"{path}: note {note.id}: {fault.column}: found {fault.found!r}, allowed: {fault.allowed}")
        for note in notes
        for check in checks
        for fault in check(note)
    ]
    if errors:
        raise errors[0] if len(errors) == 1 else ManyFaultsError(errors)


def _makers(make_midi: Maker) -> dict[str, Maker]:
    """What makes each file that follows from the tables, by its name and in the order to make them."""
    return {"performance.mid": make_midi, "tab.txt": _make_tab, "score.musicxml": _make_score}


def _table_makers(taken: TakenBack | None, told: frozenset[int]) -> dict[str, Maker]:
    """What makes the tables where they are not as the player left them: brought back, or ``told`` anew."""
    brought = taken is not None and bool(taken.edited | taken.added | taken.removed)
    makers: dict[str, Maker] = {}
    if brought or told:
        makers["notes.csv"] = _make_notes
    if brought:
        makers["inflections.csv"] = _make_inflections
    return makers


def _stage_sung_from(take: OpenedTake, stage: Stage) -> None:
    """Say beside the sound which notes it is that of."""
    sung_from = TakeFolder(stage.path).sung_from
    sung_from.parent.mkdir(exist_ok=True)
    write_sung_from(sung_from, take.notes)


def _make_notes(take: OpenedTake, path: Path, _progress: Progress) -> None:
    write_lines(path, notes_csv_lines(take.notes))


def _make_inflections(take: OpenedTake, path: Path, _progress: Progress) -> None:
    write_lines(path, inflections_csv_lines(take.notes))


def _make_tab(take: OpenedTake, path: Path, _progress: Progress) -> None:
    rows = (as_row(note, take.harp_at(note)) for note in take.notes)
    path.write_text(tab_text(rows, take.settings.harp.tab), encoding="utf-8", newline="")


def _make_score(take: OpenedTake, path: Path, _progress: Progress) -> None:
    make_score(take, path)
