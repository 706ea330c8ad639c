"""Writes a take while it happens and derives its tables when it ends."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import Literal, Self

from bridge.base.errors import ClosedError
from bridge.base.events import AudioBlock, Event, PitchPoint
from bridge.base.writing import write_making_room
from bridge.harp.harp import Harp
from bridge.harp.tab import Convention
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from bridge.takes.curve import CurveWriter
from bridge.takes.edited import Tempo
from bridge.takes.folder import TakeFolder
from bridge.takes.held import held
from bridge.takes.journal import Journal
from bridge.takes.midi_file import MidiFileBuilder
from bridge.takes.score import ScoreStyle
from bridge.takes.score_file import write_take_score
from bridge.takes.settings import TakeSettings
from bridge.takes.sound import SoundWriter
from bridge.takes.tables_derived import TablesDeriver
from bridge.takes.take_yaml import TakeFacts, write_take_yaml
from bridge.takes.tempo_choice import KnownTempo, tempo_at_beginning, tempo_at_end
from bridge.takes.thinning import Thinning


class TakeWriter:
    """Takes events and sound in stream order; :meth:`finish` writes what follows from them.

    ``live`` takes keep a journal too and thin the curve as ``settings`` say; others keep every frame. Journal
    and MIDI file keep the values of a note as often as they go out by MIDI.
    ``harp`` tells the holes (None: unknown, the notes have none), ``tab`` how they are written; ``rate`` is that of the
    sound in Hz, ``also_blue`` the degrees besides the third that the score has quarter tones on. At the end notes,
    inflections, tab, MIDI file and score are written. Everything appended before a crash stays; until the end the
    folder is held; raises OSError when the disk does not take it. Also a context manager that finishes when left,
    whatever the reason.
    """

    def __init__(
        self,
        folder: TakeFolder,
        facts: TakeFacts,
        *,
        midi: MidiSettings,
        pitch: SentPitch,
        harp: Harp | None,
        tab: Convention,
        settings: TakeSettings,
        also_blue: Collection[Literal["5", "7"]] = (),
        live: bool = False,
        rate: int = 48000,
    ) -> None:
        self.folder = folder
        self._settings = settings
        self._style = ScoreStyle(settings.slide_cents, also_blue)
        self._tempo = tempo_at_beginning(settings)
        self._facts = _with_tempo(facts, self._tempo)
        self._tables = TablesDeriver(harp, settings.breakpoint_tolerance, tab, folder.path)
        self._tab = tab
        self._midi = MidiFileBuilder(midi, pitch, settings.midi_program, folder=folder.path, tempo=self._told_tempo)
        self._thinning = Thinning(midi.least_interval_s("bend"))
        self._last_s = 0.0
        self._written: set[Path] = set()
        self._finished = False
        self._journal: Journal | None = None
        self._sound: SoundWriter | None = None
        with ExitStack() as holding, ExitStack() as opened:
            holding.enter_context(held(folder))
            write_take_yaml(folder.description, self._facts)
            rows = settings.curve_rows_per_second if live else None
            self._curve = CurveWriter(folder.curve, rows_per_second=rows, flush_s=settings.flush_s)
            opened.callback(self._curve.close)
            if live:
                self._journal = Journal(folder.journal)
                opened.callback(self._journal.close)
            if settings.keep_sound:
                self._sound = SoundWriter(folder.sound, rate, flush_s=settings.flush_s)
                opened.callback(self._sound.close)
            self._opened, self._holding = opened.pop_all(), holding.pop_all()

    def add(self, event: Event) -> None:
        """Keep an event; raises ClosedError when finished."""
        self._check_open()
        self._last_s = max(self._last_s, event.time_s)
        # What is derived at the end comes first: a disk that is full must cost no note.
        self._tables.add(event)
        if isinstance(event, PitchPoint):
            self._curve.add(event)
            return
        self._add_thinned(self._thinning.take(event))

    def add_sound(self, block: AudioBlock) -> None:
        """Keep the sound, if the settings want it kept; raises ClosedError when finished."""
        self._check_open()
        if self._sound is not None:
            self._sound.add(block)

    def use_harp(self, harp: Harp | None, facts: Mapping[str, object]) -> None:
        """From the next note on, tell the holes by another harp (None: unknown); ``facts`` are what is said of it."""
        self._check_open()
        self._tables.use(harp)
        change = {"time_s": round(self._last_s, 5), **facts}
        self._facts = replace(self._facts, harp_changes=(*self._facts.harp_changes, change))
        write_take_yaml(self.folder.description, self._facts)
        if self._journal is not None:
            self._journal.change_harp(self._last_s, facts)

    @property
    def tempo(self) -> KnownTempo | None:
        """The tempo so far; once finished, that of the take."""
        return self._tempo

    @property
    def _told_tempo(self) -> Tempo | None:
        """The same as ``take.yaml`` tells it."""
        return None if self._tempo is None else self._tempo.told

    def use_tempo(self, tempo: Tempo) -> None:
        """The player has tapped a tempo: it counts for the whole take, until another one is tapped."""
        self._check_open()
        self._keep_tempo(KnownTempo(tempo, "tap"))

    def leave_out(self, spans: Sequence[tuple[float, float, str]]) -> None:
        """Say in the take what was no playing: start and end in seconds, and what it was; nothing for none."""
        self._check_open()
        if spans:
            facts = [{"start_s": round(start, 3), "end_s": round(end, 3), "what": what} for start, end, what in spans]
            self._facts = replace(self._facts, left_out=facts)
            write_take_yaml(self.folder.description, self._facts)

    def finish(self) -> None:
        """End what sounds, close what was appended, then write what is derived from it; once."""
        if self._finished:
            return
        self._finished = True
        self._tables.finish(self._last_s)
        # Left in reverse: one step that fails does not keep the others from being done.
        with ExitStack() as steps:
            steps.callback(self._holding.close)
            steps.callback(self._midi.close)
            steps.callback(self._tables.close)
            steps.callback(self._write_score)
            steps.callback(self._write_midi)
            steps.callback(self._write, self.folder.tab, self._tables.write_tab)
            steps.callback(self._settle_tempo)
            steps.callback(self._write_tables, self.folder.played)
            steps.callback(self._write_tables, self.folder)
            steps.callback(self._opened.close)
            steps.callback(self._add_thinned, self._thinning.rest())

    def give_up(self) -> None:
        """Close all that is open and derive nothing: for a take that nobody wants. Once finished it does nothing."""
        if self._finished:
            return
        self._finished = True
        with ExitStack() as steps:
            steps.callback(self._holding.close)
            steps.callback(self._midi.close)
            steps.callback(self._tables.close)
            steps.callback(self._opened.close)

    def _write_tables(self, folder: TakeFolder) -> None:
        if folder is not self.folder:
            # Only what is below the take: one that has vanished is told, and not made anew without its sound.
            folder.path.mkdir(exist_ok=True)
        with ExitStack() as steps:
            steps.callback(self._write, folder.inflections, self._tables.write_inflections)
            steps.callback(self._write, folder.notes, self._tables.write_notes)

    def _write(self, path: Path, write: Callable[[Path], None]) -> None:
        write_making_room(path, write, self._take_back)
        self._written.add(path)

    def _take_back(self) -> None:
        """Hold what the files are made from in memory: the disk that it lies on may have room for one of the two."""
        self._tables.take_back()
        self._midi.take_back()

    def _settle_tempo(self) -> None:
        self._keep_tempo(tempo_at_end(self._settings, self._tempo, self._tables.starts_s))

    def _keep_tempo(self, tempo: KnownTempo | None) -> None:
        if tempo != self._tempo:
            self._tempo, self._facts = tempo, _with_tempo(self._facts, tempo)
            write_take_yaml(self.folder.description, self._facts)

    def _write_score(self) -> None:
        if not self._written >= {self.folder.notes, self.folder.inflections}:
            # What it is made from is not there, which has been told.
            return
        self._write(self.folder.score, self._write_score_at)

    def _write_score_at(self, path: Path) -> None:
        write_take_score(path, self.folder, self._tables.on_each_harp, self._told_tempo, self._tab, self._style)

    def _add_thinned(self, events: Sequence[Event]) -> None:
        for event in events:
            self._midi.add(event)
        if self._journal is not None:
            for event in events:
                self._journal.add(event)

    def _write_midi(self) -> None:
        self._midi.finish(self._last_s)
        with ExitStack() as steps:
            # Beside the tables as they were played, whose folder cannot be made if it is not there by now.
            steps.callback(self._write, self.folder.played.midi, self._write_midi_at)
            steps.callback(self._write, self.folder.midi, self._write_midi_at)

    def _write_midi_at(self, path: Path) -> None:
        with path.open("wb") as out:
            self._midi.write(out, self.folder.name, self._told_tempo)

    def _check_open(self) -> None:
        if self._finished:
            raise ClosedError("This take is finished.")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.finish()


def _with_tempo(facts: TakeFacts, tempo: KnownTempo | None) -> TakeFacts:
    return replace(facts, tempo={} if tempo is None else tempo.facts())
