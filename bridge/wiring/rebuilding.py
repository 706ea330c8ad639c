"""What is derived from a take's tables, made anew from the tables as they are now."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from bridge.base.progress import Progress, share
from bridge.takes.inflections import inflections_csv
from bridge.takes.notes import as_row, notes_csv
from bridge.takes.rebuilt_tables import are_edited, made_from, stage_rebuilt
from bridge.takes.replacing import stage_for
from bridge.takes.tab_file import tab_text
from bridge.takes.taking_back import TakenBack
from bridge.wiring.from_sequencer import taken_from
from bridge.wiring.midi_making import copy_midi, is_as_played, make_midi
from bridge.wiring.notice import Notice
from bridge.wiring.opening import OpenedTake, opened_take
from bridge.wiring.resung_making import NAME as RESUNG
from bridge.wiring.resung_making import is_wanted, make_resung
from bridge.wiring.score_making import made_score

#: Makes one derived file of a take, at the path given.
Maker = Callable[[OpenedTake, Path, Progress], None]

#: How much of the work it is to open the take, and to take a MIDI file back.
_OPENED = 0.3
#: The tables that all was made from, which are kept with what was made.
_BASE = ("rebuilt/notes.csv", "rebuilt/inflections.csv")


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """What came of it: notes, seconds to the end of the last one, the names of the files that changed.

    ``before`` is the folder of the versions that were replaced, None where none was; ``taken`` what came back from a
    sequencer, None where nothing was asked for; ``as_played`` whether the MIDI file is the one that was played.
    """

    notes: int
    seconds: float
    changed: tuple[str, ...]
    before: Path | None
    taken: TakenBack | None
    as_played: bool


def rebuild_take(
    path: Path,
    notice: Notice,
    *,
    from_midi: Path | None = None,
    mpe: bool = False,
    sing: bool = True,
    progress: Progress = lambda _: None,
) -> Rebuilt:
    """Make all that is derived from the tables of the take in ``path`` anew.

    ``from_midi`` is a file whose notes are taken back into the tables first; ``mpe`` puts the notes of the MIDI file
    into an MPE zone; ``sing`` also sings the sound again where something in it was edited. Nothing is written over
    until everything is made, and what was there is kept in ``before``; ``notice`` hears what could not be sung. Raises
    UserError for what cannot be used or written, ManyFaultsError with all that is wrong in the tables.
    """
    taken, opened = None, _OPENED if from_midi is None else _OPENED / 2.0
    take = opened_take(path, notice, share(progress, 0.0, opened))
    if from_midi is not None:
        taken = taken_from(take, from_midi, notice, share(progress, opened, _OPENED))
        take = take.told_again(taken.notes, taken.untold)
    as_played = not mpe and is_as_played(take)
    makers = _makers(copy_midi if as_played else partial(make_midi, mpe=mpe), tables=taken is not None)
    if sing and is_wanted(take):
        makers[RESUNG] = lambda take, path, progress: make_resung(take, path, progress, notice)
    making = share(progress, _OPENED, 1.0)
    with stage_for(take.folder) as stage:
        for number, (name, make) in enumerate(makers.items()):
            make(take, stage.path / name, share(making, number / len(makers), (number + 1) / len(makers)))
        base = made_from(take.folder)
        if base is None:
            stage_rebuilt(take.folder, stage.path)
            stage.put_in_place(not_kept=_BASE)
        else:
            tables: dict[str, Path] = {}
            if are_edited(take.folder, base) if taken is None else taken.edited | taken.added | taken.removed:
                stage_rebuilt(take.folder, stage.path)
                # A take that an edit has just made has nothing yet that was made from other tables.
                before = (base.notes, base.inflections) if take.folder.midi.exists() else ()
                tables = {path.name: path for path in before}
            # The sound is large, and follows from the tables, which are kept where they were edited.
            stage.put_in_place(tables, not_kept=(*_BASE, RESUNG))
    progress(1.0)
    seconds = take.notes[-1].end_s if take.notes else 0.0
    changed = tuple(name for name in stage.changed if name not in _BASE)
    return Rebuilt(len(take.notes), seconds, changed, stage.before, taken, as_played)


def _makers(make_midi: Maker, *, tables: bool) -> dict[str, Maker]:
    """What makes each file, by its name and in the order to make them."""
    midi: dict[str, Maker] = {
        "performance.mid": make_midi,
        "tab.txt": _make_tab,
        "score.musicxml": _make_score,
    }
    edited: dict[str, Maker] = {"notes.csv": _make_notes, "inflections.csv": _make_inflections}
    return midi | (edited if tables else {})


def _make_notes(take: OpenedTake, path: Path, _progress: Progress) -> None:
    path.write_text(notes_csv(take.notes), encoding="utf-8", newline="")


def _make_inflections(take: OpenedTake, path: Path, _progress: Progress) -> None:
    path.write_text(inflections_csv(take.notes), encoding="utf-8", newline="")


def _make_tab(take: OpenedTake, path: Path, _progress: Progress) -> None:
    rows = [as_row(note, take.harp_at(note)) for note in take.notes]
    path.write_text(tab_text(rows, take.settings.harp.tab), encoding="utf-8", newline="")


def _make_score(take: OpenedTake, path: Path, _progress: Progress) -> None:
    path.write_bytes(made_score(take))
