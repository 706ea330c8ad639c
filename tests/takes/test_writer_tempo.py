"""The beats of a live take's MIDI file: those of the tempo that take.yaml has at its end, however it became known."""

from __future__ import annotations

from pathlib import Path

import mido
import pytest

from bridge.base.events import Event
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from bridge.takes.edited import Tempo
from bridge.takes.folder import TakeFolder, new_take
from bridge.takes.midi_beats import has_beats
from bridge.takes.recovery import recover
from bridge.takes.settings import TakeSettings
from bridge.takes.tempo import read_tempo
from bridge.takes.tempo_choice import tempo_at_beginning
from send.made_events import inflection, note_off, note_on, point
from takes.test_writer import writer

STARTS_S = [0.7 + 0.5 * number for number in range(12)]
HOWS: dict[str, tuple[TakeSettings, Tempo | None, Tempo | None]] = {
    "none": (TakeSettings(), None, None),
    # An option says nothing of bar 1: that is where the first note begins.
    "option": (TakeSettings(tempo=90.0, quarters_in_bar=3), None, Tempo(90.0, 0.7, 3)),
    "option and bar 1": (TakeSettings(tempo=40.0, bar_1_s=0.2), None, Tempo(40.0, 0.2)),
    "tap": (TakeSettings(), Tempo(55.5, 1.7), Tempo(55.5, 1.7)),
    "estimate": (TakeSettings(tempo="auto"), None, Tempo(120.0, 0.7)),
}


def events() -> list[Event]:
    """Notes at an even pace, each a moving third; every second one follows at once."""
    made: list[Event] = []
    for note_id, start_s in enumerate(STARTS_S, start=1):
        made += [point(start_s), note_on(start_s, note_id, bend_cents=-50.0)]
        made += [inflection(start_s + 0.01 * step, note_id, bend_cents=-50.0 + step) for step in range(1, 40)]
        made.append(note_off(start_s + (0.5 if note_id % 2 else 0.4), note_id))
    return made


def played(folder: TakeFolder, how: str) -> None:
    """Play the take to its end; a tap comes in the midst of it."""
    told, tapped, _ = HOWS[how]
    with writer(folder, live=True, settings=told) as take:
        for number, event in enumerate(events()):
            if tapped is not None and number == 200:
                take.use_tempo(tapped)
            take.add(event)


@pytest.mark.parametrize("how", HOWS)
def test_the_file_has_the_beats_of_the_take(tmp_path: Path, how: str) -> None:
    """Read by mido: its notes are where they were played, its values before them, its bars where take.yaml has them."""
    folder = new_take(tmp_path, "solo")
    played(folder, how)
    tempo, wanted = read_tempo(folder.description), HOWS[how][2]
    assert (tempo is None) == (wanted is None)
    if tempo is not None and wanted is not None:
        assert tempo.quarters_per_minute == pytest.approx(wanted.quarters_per_minute, rel=0.01)
        assert tempo.bar_1_s == pytest.approx(wanted.bar_1_s, abs=0.03)
    assert has_beats(folder.midi, tempo)
    assert folder.midi.read_bytes() == folder.played.midi.read_bytes()
    now_s, starts = 0.0, []
    for message in mido.MidiFile(folder.midi):
        now_s += message.time
        starts += [now_s] if message.type == "note_on" else []
    tick_s = (tempo or Tempo(120.0, 0.0)).quarter_s / 960
    assert starts == pytest.approx(STARTS_S, abs=2.1 * tick_s)
    tick, bent = 0, -1
    for message in mido.MidiFile(folder.midi).tracks[1]:
        tick += message.time
        bent = tick if message.type == "pitchwheel" else bent
        assert message.type != "note_on" or 0 <= bent < tick


@pytest.mark.parametrize("how", ["option", "estimate"])
def test_a_file_that_is_recovered_has_them_too(tmp_path: Path, how: str) -> None:
    """Made from the journal, it is the same file, byte for byte."""
    folder = new_take(tmp_path, "solo")
    played(folder, how)
    as_finished = folder.midi.read_bytes()
    for path in (folder.midi, folder.played.midi):
        path.unlink()
    settings = HOWS[how][0]
    recover(
        folder,
        midi=MidiSettings(),
        pitch=SentPitch(),
        harp=None,
        tab="signs",
        program=settings.midi_program,
        tolerance=settings.breakpoint_tolerance,
        harp_of=lambda _: None,
        tempo=tempo_at_beginning(settings),
        tempo_settings=settings,
    )
    assert folder.midi.read_bytes() == as_finished
