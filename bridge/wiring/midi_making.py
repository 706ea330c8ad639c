"""``performance.mid`` of a take: as it was played, or from its tables as they are now."""

from __future__ import annotations

import math
import shutil
from pathlib import Path

from bridge.base.progress import Progress
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from bridge.takes.edited import EditedNote
from bridge.takes.midi_beats import has_beats
from bridge.takes.midi_file import MidiFileBuilder
from bridge.takes.performed import STEP_S, performed
from bridge.takes.version_mark import mark_of
from bridge.wiring.opening import OpenedTake
from bridge.wiring.played_notes import played_notes

_CENTS_PER_SEMITONE = 100.0
#: No receiver has a wider bend range (MIDI 1.0 leaves seven bits; 96 is the widest in use), semitones.
_WIDEST_RANGE = 96
_LAST_BIT = 1.0 / 8192


def is_as_played(take: OpenedTake) -> bool:
    """Whether the MIDI file that was played says all that the tables say, and every frame and the brightness besides.

    Its beats are those of the tempo that was known then, which may be another by now.
    """
    played = take.folder.played
    return played.has_tables and has_beats(played.midi, take.tempo) and take.notes == played_notes(take)


def copy_midi(take: OpenedTake, path: Path, _progress: Progress) -> None:
    """Write the MIDI file that was played at ``path``."""
    shutil.copyfile(take.folder.played.midi, path)


def make_midi(take: OpenedTake, path: Path, progress: Progress, *, mpe: bool) -> None:
    """Write the notes of the tables at ``path``; with ``mpe`` each on a channel of its own."""
    pitch = SentPitch(take.settings.send.strength)
    settings = wide_enough(take, mpe=mpe)
    hearings = take.hearings
    program, tempo = take.settings.takes.midi_program, take.tempo
    with MidiFileBuilder(settings, pitch, program, folder=path.parent, mpe=mpe, tempo=tempo) as builder:
        for done, note in enumerate(take.notes):
            pitch.offset_cents = take.pitch_at(note).offset_cents
            for event in performed([note], hearings, step_s=step_s(take)):
                builder.add(event)
            progress(done / len(take.notes))
        with path.open("wb") as out:
            builder.write(out, take.folder.name, mark=mark_of(take.notes))


def step_s(take: OpenedTake) -> float:
    """How far apart the values of a moving bend are in the take's MIDI file, in seconds."""
    return max(STEP_S, take.settings.send.midi.least_interval_s("bend"))


def wide_enough(take: OpenedTake, *, mpe: bool) -> MidiSettings:
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
