"""What was edited in a sequencer, read with what the take says of itself where the MIDI file does not."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from bridge.base.errors import ManyFaultsError, UserError
from bridge.base.progress import Progress, nobody
from bridge.takes.edited import EditedNote
from bridge.takes.folder import TakeFolder
from bridge.takes.merging import are_others, merged, parts_edited
from bridge.takes.midi_reading import MidiReading, range_in, read_midi
from bridge.takes.rebuilt_tables import are_edited, made_from, versions_before
from bridge.takes.taking_back import TakenBack, taken_back
from bridge.takes.version_mark import mark_in, mark_of
from bridge.wiring.midi_making import step_s, wide_enough
from bridge.wiring.notice import Notice
from bridge.wiring.opening import OpenedTake

_CENTS_PER_SEMITONE = 100.0


def taken_from(take: OpenedTake, path: Path, notice: Notice, progress: Progress = nobody) -> TakenBack:
    """The notes of the MIDI file at ``path``, with what agrees with the tables of ``take`` as it stands there.

    A file that was made from an earlier version of the tables brings back only what differs from that version.
    ``notice`` hears of that, and which bend range was taken for a file that says none; ``progress`` is told the part
    read, 0..1. Raises UserError like :func:`read_midi`, where the tables were edited since any MIDI file was made from
    them, and where a note was edited both in the file and, since it was made, in the tables.
    """
    _check_not_edited(take, path)
    reading = _read(take, path, notice, progress)

    def back_into(notes: Sequence[EditedNote]) -> TakenBack:
        return taken_back(
            reading,
            notes,
            pitch_at=take.pitch_at,
            interval_s=step_s(take),
            tolerance=take.settings.takes.breakpoint_tolerance,
        )

    mark = mark_in(path)
    now = back_into(take.notes)
    if mark == mark_of(take.notes) or not now.edited | now.added | now.removed:
        return now
    # One after the other: there may be many, and each is as large as the tables.
    others = (one for one in versions_before(take.folder, [take.notes]) if are_others(one[1], take.notes))
    if mark is not None:
        made_of = next((one for one in others if mark_of(one[1]) == mark), None)
        if made_of is None:
            raise UserError(
                f"{path} was made from tables that are kept no more, neither in {take.folder.path} nor in its "
                f"{take.folder.before.name}: nobody can tell what was edited in it and what in the tables since. Edit "
                f"{take.folder.midi.name} as it is now, or put those tables back and run reedwire rebuild first."
            )
        return _merged(take, path, *made_of, back_into(made_of[1]), notice)
    nearest, fewest = None, parts_edited(now, take.notes) + 1
    for version, notes in others:
        back = back_into(notes)
        parts = parts_edited(back, notes)
        # As near to an earlier version as to the tables of now: of that, for what it lacks of these was edited since.
        if parts < fewest:
            nearest, fewest = (version, notes, back), parts
    return now if nearest is None else _merged(take, path, *nearest, notice)


def _merged(
    take: OpenedTake, path: Path, version: TakeFolder, notes: Sequence[EditedNote], taken: TakenBack, notice: Notice
) -> TakenBack:
    """What differs from the version that a file was made from, in the notes as they are now."""
    both, conflicts = merged(taken, notes, take.notes)
    errors = [
        UserError(
            f"{path}: note {one.id}: {one.what}: edited in this file and, since it was made from the tables in "
            f"{version.path}, in those of the take as well; allowed is one of the two. Nothing was taken back: undo it "
            "on one side, or edit the MIDI file as it is now."
        )
        for one in conflicts
    ]
    if errors:
        raise errors[0] if len(errors) == 1 else ManyFaultsError(errors)
    notice(
        f"{path} was made from the tables in {version.path}. What was edited in the tables since then stays; only what "
        "differs from those was taken back."
    )
    return both


def _check_not_edited(take: OpenedTake, path: Path) -> None:
    """What was edited in the tables since is not in any MIDI file, so that taking one back would undo it."""
    base = made_from(take.folder)
    if base is None or not are_edited(take.folder, base):
        return
    folder = take.folder.path
    raise UserError(
        f"{folder}: found tables that were edited after {take.folder.midi.name} was made from them; taking back {path} "
        f"would undo that. Either run reedwire rebuild {folder} and edit the MIDI file that it makes, or copy "
        f"{base.notes.name} and {base.inflections.name} from {base.path} over the edited ones first."
    )


def _read(take: OpenedTake, path: Path, notice: Notice, progress: Progress) -> MidiReading:
    breath = take.settings.send.midi.breath_controller
    reading = read_midi(path, breath, progress=progress)
    if reading.sets_range or not any(cents for note in reading.notes for _, cents in note.bends):
        return reading
    # Whoever has saved it left RPN 0 out: a receiver's usual range would make other bends of the same values.
    range_cents = _own_range_cents(take, on_many_channels=len(reading.channels) > 1)
    notice(
        f"{path} says no bend range (RPN 0), so that of the take was taken: "
        f"{range_cents / _CENTS_PER_SEMITONE:g} semitones."
    )
    return read_midi(path, breath, range_cents, progress)


def _own_range_cents(take: OpenedTake, *, on_many_channels: bool) -> float:
    """What the take's MIDI file says, else what it would be written with."""
    try:
        said = range_in(take.folder.midi)
    except UserError:
        # It is gone, or what came back damaged is the take's own file.
        said = None
    if said is not None:
        return said
    mpe = on_many_channels or take.settings.send.midi.mode == "mpe"
    return wide_enough(take, mpe=mpe).sent_bend_range * _CENTS_PER_SEMITONE
