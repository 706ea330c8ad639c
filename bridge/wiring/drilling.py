"""An exercise on the third: listening to it through the ordinary chain, and what to say of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from bridge.base.clock import WallClock
from bridge.base.errors import UserError
from bridge.capture.sound_file import SoundFile
from bridge.capture.source import Source
from bridge.quantise.third import ThirdZone, blue_zones
from bridge.study.attempt import Attempt, judge
from bridge.study.exercises import Exercise, exercises
from bridge.study.marks import Beat, NoteMarks, marks_of
from bridge.study.note_frames import NoteFrames, NoteListener
from bridge.wiring.chain import Chain
from bridge.wiring.harps import harp_set
from bridge.wiring.on_harp import quantise_on
from bridge.wiring.settings import Settings

#: A bend of any depth is one note here.
GRANTED = {"send.midi.bend_range": 12}
_FILE_BLOCK_S = 0.5
_READ_TIMEOUT_S = 0.05
#: A sound card that gives nothing for this long will not, in seconds.
_NOTHING_S = 5.0
#: What is shorter than this is no note of an exercise, seconds.
_SHORTEST_S = 0.1


def zone_of(settings: Settings) -> ThirdZone:
    """Where the third lies on the harp of the settings."""
    held = harp_set(settings.harp).harps[0]
    return blue_zones(quantise_on(settings, held))["3"]


def exercises_on(settings: Settings) -> tuple[Exercise, ...]:
    """The exercises on the harp of the settings."""
    return exercises(zone_of(settings), settings.study.near_cents)


def find_exercise(settings: Settings, name: str) -> Exercise:
    """The exercise called ``name``. Raises UserError with the names of all."""
    every = exercises_on(settings)
    found = next((exercise for exercise in every if exercise.name == name.strip().lower()), None)
    if found is None:
        names = ", ".join(exercise.name for exercise in every)
        raise UserError(f"There is no exercise {name!r}. There are {names}.")
    return found


def hear_round(
    settings: Settings,
    source: Source,
    clock: WallClock,
    now: Callable[[float], None] = lambda _: None,
    stopped: Callable[[], bool] = lambda: False,
) -> list[NoteMarks]:
    """The marks of all notes of the open ``source``, heard to its end or until ``stopped``.

    ``now`` is told how far the stream has come, seconds. Raises UserError when a sound card gives nothing, SoundError
    for a recording that is damaged.
    """
    heard = settings if source.live else settings.model_copy(update={"quantise": settings.quantise.unhurried()})
    chain = Chain(heard, source.rate, look_ahead=not source.live)
    listener = NoteListener()
    frames: list[NoteFrames | None] = []
    chain.add_watcher(lambda event: frames.append(listener.take(event)))
    found: list[NoteMarks] = []

    def take_notes() -> None:
        marks = [marks_of(note, clean_least=settings.quantise.double_stops.clean_least) for note in frames if note]
        found.extend(each for each in marks if each is not None)
        frames.clear()

    came_at = clock.now()
    while (block := source.read(_READ_TIMEOUT_S)) is not None and not stopped():
        if len(block.samples):
            came_at = clock.now()
        elif clock.now() - came_at > _NOTHING_S:
            raise UserError(f"Nothing comes from the sound input {source.name}. Check its plug and its switch.")
        chain.feed(block)
        take_notes()
        now(chain.now_s)
    chain.finish()
    take_notes()
    return found


def hear_file(
    settings: Settings,
    path: Path,
    exercise: Exercise,
    clock: WallClock,
    beat_s: float | None = None,
    first_s: float | None = None,
    before_cents: float | None = None,
) -> list[Attempt]:
    """Every time through ``exercise`` in a recording.

    With ``beat_s`` (seconds) the first note of each says where the beat is, or the beat at ``first_s`` of the recording
    does. Raises SoundError for a recording that cannot be used.
    """
    rate = settings.capture.rate_hz
    with SoundFile(path, rate, round(_FILE_BLOCK_S * rate)) as source:
        heard = [note for note in hear_round(settings, source, clock) if note.length_s >= _SHORTEST_S]
        source.require_sound()
    notes = [note for note in heard if exercise.belongs(note.settle_cents)]
    others = [note for note in heard if note not in notes]
    attempts: list[Attempt] = []
    while notes:
        beat, count = None, min(len(exercise.aims), len(notes))
        if beat_s is not None:
            start_s = notes[0].start_s
            if first_s is not None:
                start_s = first_s + round((start_s - first_s) / beat_s) * beat_s
            beat = Beat(start_s, beat_s)
            count = max(1, sum(note.start_s < beat.at(exercise.beats) - 0.5 * beat_s for note in notes))
        rest = notes[count:]
        beside = [note for note in others if not rest or note.start_s < rest[0].start_s]
        attempts.append(judge(exercise, [*notes[:count], *beside], settings.study, beat, before_cents))
        others = others[len(beside) :]
        if attempts[-1].heard:
            before_cents = attempts[-1].advice.off_cents
        notes = rest
    return attempts
