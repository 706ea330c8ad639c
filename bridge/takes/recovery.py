"""A take whose writer was stopped: what is derived at the end is made from what was appended until then.

Only files that are missing are written, so that nothing anybody has edited is ever lost.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from bridge.base.errors import UserError
from bridge.base.events import PitchPoint
from bridge.base.progress import Progress, nobody, share
from bridge.base.writing import making_room, write_making_room
from bridge.harp.harp import Harp
from bridge.harp.tab import Convention
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from bridge.takes.breakpoints import Tolerance
from bridge.takes.folder import TakeFolder
from bridge.takes.midi_file import MidiFileBuilder
from bridge.takes.reading import HarpChange, read_events
from bridge.takes.score import ScoreStyle
from bridge.takes.score_file import write_take_score
from bridge.takes.settings import TakeSettings
from bridge.takes.sound import mend_header
from bridge.takes.tables_derived import TablesDeriver
from bridge.takes.take_yaml import put_tempo
from bridge.takes.tempo_choice import KnownTempo, tempo_at_end

#: How much of the work it is to read what was appended.
_READ = 0.8


@dataclass(frozen=True, slots=True)
class Recovered:
    """What came of it: the notes of the take, its length in seconds, and the names of the files made or mended.

    ``put_back`` are those of them that are tables as they were kept, and were not made from the journal.
    """

    notes: int
    seconds: float
    made: tuple[str, ...]
    put_back: tuple[str, ...] = ()


def recover(
    folder: TakeFolder,
    *,
    midi: MidiSettings,
    pitch: SentPitch,
    harp: Harp | None,
    tab: Convention,
    program: int | None,
    tolerance: Tolerance,
    harp_of: Callable[[Mapping[str, object]], Harp | None],
    tempo: KnownTempo | None = None,
    tempo_settings: TakeSettings | None = None,
    style: ScoreStyle | None = None,
    progress: Progress = nobody,
) -> Recovered:
    """Make what is missing of the take in ``folder``, and bring the header of its sound up to date.

    ``harp`` is the one it began on and ``harp_of`` gives that of a later change from its facts (None: unknown);
    ``pitch`` is what the MIDI file is written by, ``program`` its program, 0..127, and ``tolerance`` how near the
    breakpoints keep to the curve; ``tempo`` and ``style`` are what the score is written by. Of a take that did not come
    to its end the tempo is settled too, by ``tempo_settings`` (those as usual where None). ``progress`` is told
    the part done, 0..1. Raises UserError with file and line for what cannot be read, and for a folder that cannot be
    written.
    """
    with (
        TablesDeriver(harp, tolerance, tab, folder.path) as tables,
        MidiFileBuilder(midi, pitch, program, folder=folder.path, tempo=tempo.told if tempo else None) as file,
    ):
        last_s = 0.0
        for event in read_events(folder.journal, folder.curve, share(progress, 0.0, _READ)):
            last_s = max(last_s, event.time_s)
            if isinstance(event, HarpChange):
                harp = harp_of(event.facts)
                tables.use(harp)
                pitch.tune_to(harp.sharp_cents if harp is not None else 0.0)
                continue
            tables.add(event)
            if not isinstance(event, PitchPoint):
                file.add(event)
        tables.finish(last_s)
        file.finish(last_s)

        def write_midi(path: Path) -> None:
            with path.open("wb") as out:
                file.write(out, folder.name, settled.told if settled else None)

        def write_score(path: Path) -> None:
            told = settled.told if settled else None
            write_take_score(path, folder, tables.on_each_harp, told, tab, style or ScoreStyle())

        wanted: dict[Path, Callable[[Path], None]] = {
            folder.played.notes: tables.write_notes,
            folder.played.inflections: tables.write_inflections,
            folder.played.midi: write_midi,
            folder.notes: tables.write_notes,
            folder.inflections: tables.write_inflections,
            folder.tab: tables.write_tab,
            folder.midi: write_midi,
            folder.score: write_score,
        }

        def take_back() -> None:
            # What the files are made from lies on the same disk, which may have room for one of the two.
            tables.take_back()
            file.take_back()

        made = []
        try:
            making_room(partial(folder.played.path.mkdir, exist_ok=True), take_back)
            settle = partial(_settled, folder, tempo_settings or TakeSettings(), tempo, tables.starts_s)
            settled = making_room(settle, take_back)
            if settled != tempo:
                made.append(folder.description.name)
            missing = _missing(wanted, take_back, share(progress, _READ, 1.0))
            made += [str(path.relative_to(folder.path)) for path in missing]
            if folder.sound.exists() and mend_header(folder.sound):
                made.append(folder.sound.name)
        except OSError as error:
            raise UserError(
                f"{folder.path} cannot be written ({error.strerror}). Check its rights and the disk."
            ) from error
        return Recovered(len(tables.starts_s), last_s, tuple(made))


def _missing(
    wanted: Mapping[Path, Callable[[Path], None]], make_room: Callable[[], None], progress: Progress
) -> Iterator[Path]:
    """Write each file that is not there, on a full disk after ``make_room``; which they were. Raises OSError."""
    for number, (path, write) in enumerate(wanted.items()):
        progress(number / len(wanted))
        if not path.exists():
            write_making_room(path, write, make_room)
            yield path


def _settled(
    folder: TakeFolder, settings: TakeSettings, told: KnownTempo | None, starts_s: Sequence[float]
) -> KnownTempo | None:
    """The tempo of the take, put into its ``take.yaml`` where its writer did not come to settle it."""
    if folder.played.midi.exists() or folder.midi.exists():
        # The writer settles it before it writes the MIDI file; what is said of it later may be by hand.
        return told
    settled = tempo_at_end(settings, told, starts_s)
    if settled is None or (told is not None and settled.facts() == told.facts()):
        return told
    put_tempo(folder.description, settled.facts())
    return settled
