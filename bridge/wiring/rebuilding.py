"""What is derived from a take's tables, made anew from the tables as they are now."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from bridge.takes.edited import EditedNote
from bridge.takes.inflections import inflections_csv
from bridge.takes.midi_file import MidiFileBuilder
from bridge.takes.midi_reading import read_midi
from bridge.takes.notes import as_row, notes_csv
from bridge.takes.performed import STEP_S, performed
from bridge.takes.replacing import stage_for
from bridge.takes.tab_file import tab_text
from bridge.takes.taking_back import TakenBack, taken_back
from bridge.wiring.notice import Notice
from bridge.wiring.opening import OpenedTake, opened_take
from bridge.wiring.resung_making import NAME as RESUNG
from bridge.wiring.resung_making import is_wanted, make_resung
from bridge.wiring.score_making import made_score

#: Told the part of the work that is done, 0..1.
Progress = Callable[[float], None]
#: Makes one derived file of a take, at the path given.
Maker = Callable[[OpenedTake, Path, Progress], None]

_CENTS_PER_SEMITONE = 100.0
#: No receiver has a wider bend range (MIDI 1.0 leaves seven bits; 96 is the widest in use), semitones.
_WIDEST_RANGE = 96
_LAST_BIT = 1.0 / 8192


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """What came of it: notes, seconds to the end of the last one, the names of the files that changed.

    ``before`` is the folder of the versions that were replaced, None where none was; ``taken`` what came back from a
    sequencer, None where nothing was asked for.
    """

    notes: int
    seconds: float
    changed: tuple[str, ...]
    before: Path | None
    taken: TakenBack | None


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
    take = opened_take(path, notice)
    taken = None
    if from_midi is not None:
        taken = _taken_back(take, from_midi)
        take = take.told_again(taken.notes, taken.untold)
    makers = _makers(mpe=mpe, tables=taken is not None)
    if sing and is_wanted(take):
        makers[RESUNG] = lambda take, path, progress: make_resung(take, path, progress, notice)
    with stage_for(take.folder) as stage:
        for number, (name, make) in enumerate(makers.items()):
            make(take, stage.path / name, _part_of(progress, number, len(makers)))
        stage.put_in_place()
    progress(1.0)
    seconds = take.notes[-1].end_s if take.notes else 0.0
    return Rebuilt(len(take.notes), seconds, stage.changed, stage.before, taken)


def _part_of(progress: Progress, done: int, of: int) -> Progress:
    """What is told the part done of one piece of work, ``done`` of so many lying behind."""
    return lambda part: progress((done + part) / of)


def _makers(*, mpe: bool, tables: bool) -> dict[str, Maker]:
    """What makes each file, by its name and in the order to make them."""
    midi: dict[str, Maker] = {
        "performance.mid": lambda take, path, progress: _make_midi(take, path, progress, mpe=mpe),
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


def _make_midi(take: OpenedTake, path: Path, progress: Progress, *, mpe: bool) -> None:
    pitch = SentPitch(take.settings.send.strength)
    settings = _wide_enough(take, mpe=mpe)
    builder = MidiFileBuilder(settings, pitch, take.settings.takes.midi_program, mpe=mpe, tempo=take.tempo)
    hearings = take.hearings
    for done, note in enumerate(take.notes):
        pitch.offset_cents = take.pitch_at(note).offset_cents
        for event in performed([note], hearings, step_s=step_s(take)):
            builder.add(event)
        progress(done / len(take.notes))
    path.write_bytes(builder.data(take.folder.path.name))


def step_s(take: OpenedTake) -> float:
    """How far apart the values of a moving bend are in the take's MIDI file, in seconds."""
    return max(STEP_S, take.settings.send.midi.least_interval_s("bend"))


def _wide_enough(take: OpenedTake, *, mpe: bool) -> MidiSettings:
    """The settings of MIDI with a bend range that holds the deepest bend of the tables; a file says its own range."""
    midi = take.settings.send.midi
    if mpe:
        midi = midi.model_copy(update={"mode": "mpe", "channel": 1})
    needed = max((_widest_cents(note, take.pitch_at(note)) for note in take.notes), default=0.0)
    semitones = min(_WIDEST_RANGE, math.ceil(needed / _CENTS_PER_SEMITONE * (1.0 + _LAST_BIT)))
    if semitones <= midi.sent_bend_range:
        return midi
    return midi.model_copy(update={"member_bend_range" if midi.mode == "mpe" else "bend_range": semitones})


def _widest_cents(note: EditedNote, pitch: SentPitch) -> float:
    return max(abs(pitch.cents(point.bend_cents)) for point in note.points)


def _taken_back(take: OpenedTake, path: Path) -> TakenBack:
    midi = take.settings.send.midi
    return taken_back(
        read_midi(path, midi.breath),
        take.notes,
        pitch_at=take.pitch_at,
        interval_s=step_s(take),
        tolerance=take.settings.takes.breakpoint_tolerance,
    )
