"""``performance.mid`` of a sampled phrase, read by two libraries that did not write it: pretty_midi and music21.

Bends are read as the standard says (MIDI 1.0, 4.2.1): 8192 steps each way over the range that RPN 0 set.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import music21
import numpy as np
import pretty_midi
import pytest
import soundfile
from numpy.typing import NDArray

from bridge.wiring.offline import transcribe_file
from bridge.wiring.settings import load_settings
from main_job.take_files import Curve, Note, read_curve, read_notes
from sounds.sampled import sampled

RANGE_CENTS = 1200.0
STEP_CENTS = RANGE_CENTS / 8192
#: 960 ticks a quarter at 120 quarters a minute.
TICK_S = 0.5 / 960
ROOT_MIDI = 67
#: Rows of the curve (one each 64 samples at 48 kHz) in the 4 ms from bend to bend, with the one now.
ROWS_OLD = 4


@dataclass(frozen=True, eq=False)
class Take:
    """The MIDI file and the tables beside it."""

    midi: Path
    notes: list[Note]
    curve: Curve


def transcribed(folder: Path, *said: str) -> Take:
    """The phrase, with a bend range of an octave and these settings."""
    sound = sampled("phrase")
    soundfile.write(folder / "phrase.wav", sound.samples, sound.rate, subtype="PCM_24")
    settings = load_settings(None, ["send.midi.bend_range=12", *said])
    made = transcribe_file(folder / "phrase.wav", folder, settings).folder
    return Take(made / "performance.mid", read_notes(made), read_curve(made))


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Take:
    """The phrase with the intervals that bends go out in."""
    return transcribed(tmp_path_factory.mktemp("midi"))


@pytest.fixture(scope="module")
def pretty(take: Take) -> Any:  # noqa: ANN401 -- pretty_midi has no type information
    """The one instrument that pretty_midi finds."""
    (instrument,) = pretty_midi.PrettyMIDI(str(take.midi)).instruments
    return instrument


def bends(instrument: Any) -> tuple[NDArray[np.float64], NDArray[np.float64]]:  # noqa: ANN401 -- as above
    """Seconds and cents of every bend, in order."""
    found = instrument.pitch_bends
    return np.array([bend.time for bend in found]), np.array([bend.pitch for bend in found]) * STEP_CENTS


def test_pretty_midi_reads_the_notes_of_the_table(take: Take, pretty: Any) -> None:  # noqa: ANN401 -- as above
    """Number and velocity are the same, start and end within rounding and the tick by which a bend goes before."""
    read = sorted(pretty.notes, key=lambda note: note.start)
    assert [(note.pitch, note.velocity) for note in read] == [(note.midi_note, note.velocity) for note in take.notes]
    assert [note.start for note in read] == pytest.approx([note.start_s for note in take.notes], abs=1.6 * TICK_S)
    assert [note.end for note in read] == pytest.approx([note.end_s for note in take.notes], abs=1.6 * TICK_S)


def test_music21_reads_the_notes_of_the_table(take: Take) -> None:
    """music21, told not to move notes to a grid, finds the same numbers, starts and lengths (in quarters at 120)."""
    stream = music21.converter.parse(str(take.midi), quantizePost=False, forceSource=True).stripTies()
    read: list[Any] = list(stream.flatten().notes)
    assert [note.pitch.midi for note in read] == [note.midi_note for note in take.notes]
    starts = [float(note.offset) / 2 for note in read]
    assert starts == pytest.approx([note.start_s for note in take.notes], abs=1.6 * TICK_S)
    lengths = [float(note.quarterLength) / 2 for note in read]
    assert lengths == pytest.approx([note.length_s for note in take.notes], abs=3.2 * TICK_S)


def test_music21_finds_the_bend_range_first_and_the_same_bends(take: Take, pretty: Any) -> None:  # noqa: ANN401
    """RPN 0 sets 12 semitones in the order 101, 100, 6, 38 (MIDI 1.0, 4.2.1); bends are as pretty_midi's."""
    file = music21.midi.MidiFile()
    file.open(str(take.midi))
    file.read()
    file.close()
    kinds = music21.midi.ChannelVoiceMessages
    messages: list[Any] = [event for track in file.tracks for event in track.events if event.type in set(kinds)]
    assert [message.type for message in messages[:4]] == [kinds.CONTROLLER_CHANGE] * 4
    controls = [(message.parameter1, message.parameter2) for message in messages[:4]]
    assert controls == [(101, 0), (100, 0), (6, 12), (38, 0)]
    read = [message.parameter1 + 128 * message.parameter2 for message in messages if message.type == kinds.PITCH_BEND]
    assert read == [8192 + bend.pitch for bend in pretty.pitch_bends]


def test_every_bend_is_a_point_of_the_curve(take: Take, pretty: Any) -> None:  # noqa: ANN401 -- as above
    """Each bend inside a note is within one step of the curve's cents at its time; the first, of where it settled."""
    times, cents = bends(pretty)
    for note in take.notes:
        anchor = 100.0 * (note.midi_note - ROOT_MIDI)
        opening = (times > note.start_s - 2.6 * TICK_S) & (times <= note.start_s + 0.6 * TICK_S)
        settling = (take.curve.time_s >= note.start_s - 0.002) & (take.curve.time_s < note.start_s + 0.06)
        first = cents[opening][-1]
        assert np.min(np.abs(take.curve.cents[settling] - anchor - first)) <= STEP_CENTS
        for time, bend in zip(times, cents, strict=True):
            if note.start_s + 0.6 * TICK_S < time < note.end_s - 2.6 * TICK_S:
                frame = int(np.argmin(np.abs(take.curve.time_s - time)))
                assert abs(take.curve.time_s[frame] - time) <= 0.6 * TICK_S
                assert abs(take.curve.cents[frame] - anchor - bend) <= STEP_CENTS


def test_the_bend_in_force_is_never_older_than_bends_go_out(take: Take, pretty: Any) -> None:  # noqa: ANN401 -- as above
    """From 60 ms after its start on a note sounds within one step of the curve at most one interval (4 ms) before."""
    times, cents = bends(pretty)
    rows = 0
    for note in take.notes:
        anchor = 100.0 * (note.midi_note - ROOT_MIDI)
        inside = np.flatnonzero((take.curve.time_s > note.start_s + 0.06) & (take.curve.time_s < note.end_s - 0.03))
        inside = inside[np.all(take.curve.hz[inside[:, None] - np.arange(ROWS_OLD)] > 0.0, axis=1)]
        in_force = cents[np.searchsorted(times, take.curve.time_s[inside] + 0.6 * TICK_S) - 1]
        # A row is the curve now or up to as many rows ago as an interval holds.
        lately = take.curve.cents[inside[:, None] - np.arange(ROWS_OLD)] - anchor
        assert np.max(np.min(np.abs(lately - in_force[:, None]), axis=1)) <= STEP_CENTS
        rows += len(inside)
    assert rows > 1000


def test_with_no_interval_the_bend_in_force_is_the_curve_all_the_way(tmp_path: Path) -> None:
    """``interval_ms`` 0 keeps every bend: as above, with the curve at that very row."""
    take = transcribed(tmp_path, "send.midi.interval_ms=0")
    (instrument,) = pretty_midi.PrettyMIDI(str(take.midi)).instruments
    times, cents = bends(instrument)
    rows = 0
    for note in take.notes:
        anchor = 100.0 * (note.midi_note - ROOT_MIDI)
        inside = (take.curve.time_s > note.start_s + 0.06) & (take.curve.time_s < note.end_s - 0.03)
        inside &= take.curve.hz > 0.0
        in_force = cents[np.searchsorted(times, take.curve.time_s[inside] + 0.6 * TICK_S) - 1]
        assert np.max(np.abs(take.curve.cents[inside] - anchor - in_force)) <= STEP_CENTS
        rows += int(np.count_nonzero(inside))
    assert rows > 1000
