"""The one door through which rebuild, replay, edits and score open a take: made whole, read and checked."""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from bridge.base.errors import ManyFaultsError, UserError
from bridge.base.progress import Progress, nobody, share
from bridge.harp.harp import Harp
from bridge.quantise.scales import find_scale
from bridge.send.pitch import SentPitch, sent_pitch
from bridge.takes.derived_columns import with_own_columns
from bridge.takes.edited import EditedNote, Tempo
from bridge.takes.folder import TakeFolder
from bridge.takes.holes import hole_faults
from bridge.takes.known import Versions
from bridge.takes.lasting import Lasting
from bridge.takes.latest import Latest
from bridge.takes.performed import Hearing, hearing, in_force
from bridge.takes.rebuilt_tables import tables_digest
from bridge.takes.retelling import HarpSince, told_again, untold
from bridge.takes.tables import RowCheck, read_tables
from bridge.takes.take_yaml import read_take_file
from bridge.takes.tempo import read_tempo
from bridge.wiring.notice import Notice
from bridge.wiring.on_harp import quantise_on
from bridge.wiring.recovering import end_stopped, recover_tables, settings_of, take_folder, tell_of_spreadsheets
from bridge.wiring.settings import Settings
from bridge.wiring.told_harps import PlayedHarp, told_harps

#: How much of opening a take it is to make it whole first.
_RECOVERED = 0.95


@dataclass(frozen=True, slots=True)
class OpenedTake:
    """A take as its tables hold it now: ``notes`` in order, ``harps`` in order of time, at least one.

    ``settings`` are those that it was played with, ``tempo`` is None where none is known. ``untold`` are the ids of
    notes of which the table tells no degree: here they have one. ``digest`` is that of the tables and ``as_read`` what
    they said; ``known`` are versions that somebody holds anyway: what they have is not held a second time.
    """

    folder: TakeFolder
    settings: Settings
    harps: tuple[PlayedHarp, ...]
    notes: tuple[EditedNote, ...]
    tempo: Tempo | None
    digest: str
    as_read: tuple[EditedNote, ...]
    untold: frozenset[int] = frozenset()
    known: Versions = ()

    @property
    def hearings(self) -> tuple[Hearing, ...]:
        """How bends are heard on each harp that is known: what :func:`performed` needs besides the notes."""
        quantise = self.settings.quantise
        scale = find_scale(quantise.scale, quantise.scales)
        return tuple(
            hearing(one.since_s, one.held.harp.root_midi, scale, quantise_on(self.settings, one.held))
            for one in self.harps
            if one.held is not None
        )

    def with_notes(self, notes: Sequence[EditedNote], *, retold: Container[int]) -> OpenedTake:
        """The take with ``notes``, degree and reed told anew of those whose id is in ``retold``."""
        harps = [HarpSince(one.since_s, one.harp) for one in self.harps]
        return replace(self, notes=tuple(told_again(notes, retold, self.hearings, harps)))

    def harp_at(self, note: EditedNote) -> Harp | None:
        """The harp that ``note`` was played on."""
        return harp_at(self.harps, note)

    def pitch_at(self, note: EditedNote) -> SentPitch:
        """How much of the bend of ``note`` goes out; one of its own for each call."""
        harp = self.harp_at(note)
        return sent_pitch(self.settings.send, harp.sharp_cents if harp is not None else 0.0)


def harp_at(harps: Sequence[PlayedHarp], note: EditedNote) -> Harp | None:
    """Which of ``harps``, in order of time, ``note`` was played on."""
    played = in_force(note, harps)
    return None if played is None else played.harp


def opened_take(path: Path, notice: Notice, progress: Progress = nobody, known: Versions = ()) -> OpenedTake:
    """The take in the folder ``path``, made whole first where it was not finished; ``notice`` hears of that in a line.

    ``progress`` is told the part done, 0..1. Raises UserError for what is no take, and ManyFaultsError with all that is
    wrong in its tables and in what it says of its harps and its tempo. Nothing that is there is written over. A note
    that was added to the table without a degree is told one, and a reed if it has none.
    """
    folder = take_folder(path)
    end_stopped(folder, notice)
    tell_of_spreadsheets(folder, notice)
    recovered = 0.0 if folder.has_tables else _RECOVERED
    if not folder.has_tables:
        done = recover_tables(folder, notice, share(progress, 0.0, recovered))
        made = [name for name in done.made if name not in done.put_back]
        if made:
            notice(f"{path} was not whole: made {', '.join(made)} from what was written until then.")
    file, digest = read_take_file(folder.description), tables_digest(folder)
    errors: list[UserError] = []
    harps: tuple[PlayedHarp, ...] = ()
    notes: Sequence[EditedNote] = ()
    tempo: Tempo | None = None
    try:
        harps = told_harps(file, notice)
    except ManyFaultsError as error:
        errors += error.errors
    except UserError as error:
        errors.append(error)
    checks: list[RowCheck] = [Latest(folder), Lasting(folder), lambda note: hole_faults(note, harp_at(harps, note))]
    try:
        tempo = read_tempo(folder.description)
    except UserError as error:
        errors.append(error)
    try:
        notes = read_tables(folder.notes, folder.inflections, share(progress, recovered, 1.0), checks, known)
    except ManyFaultsError as error:
        errors += error.errors
    except UserError as error:
        errors.append(error)
    if errors:
        raise errors[0] if len(errors) == 1 else ManyFaultsError(errors)
    read = tuple(notes)
    take = OpenedTake(folder, settings_of(file.data, notice), harps, read, tempo, digest, read, known=known)
    lacking = frozenset(untold(notes))
    if not lacking:
        return take
    told = take.with_notes(notes, retold=lacking).notes
    filled = tuple(
        with_own_columns(new, old, None, harp_known=take.harp_at(old) is not None)
        for new, old in zip(told, notes, strict=True)
    )
    return replace(take, notes=filled, untold=frozenset(note.id for note in filled if note.degree) & lacking)
