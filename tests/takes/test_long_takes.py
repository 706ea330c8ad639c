"""What a long take needs in memory: so many bytes for each number of its tables, and nothing for its frames.

The memory is what Python and numpy have asked for (tracemalloc), at its highest, for a short take and for one four
times as long: what both need alike goes out of the difference.
"""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge.harp.harp import make_harp
from bridge.quantise.scales import find_scale
from bridge.quantise.settings import QuantiseSettings
from bridge.send.pitch import SentPitch
from bridge.takes.breakpoints import Tolerance
from bridge.takes.edited import Breakpoint, EditedNote, Tempo
from bridge.takes.inflections import inflections_csv
from bridge.takes.midi_reading import read_midi
from bridge.takes.notes import notes_csv
from bridge.takes.performed import hearing
from bridge.takes.replayed import Ground, Reach, replayed
from bridge.takes.retelling import HarpSince, told_again
from bridge.takes.score import write_score
from bridge.takes.tables import read_tables
from bridge.takes.taking_back import taken_back
from takes.made_notes import edited
from takes.sequencer import file_of

SHORT_S, LONG_S = 10.0, 40.0
#: A note lasts so long, then a rest; a corner of its curve comes every so many seconds.
NOTE_S, REST_S, CORNER_S = 0.7, 0.1, 0.05
HARP = make_harp("C", 2, 440.0)
HEARING = hearing(0.0, HARP.root_midi, find_scale("blues", {}), QuantiseSettings().for_harp(400.0))


def notes_of(seconds: float) -> list[EditedNote]:
    """Thirds with a movement that never rests."""
    corners = [round(step * CORNER_S, 5) for step in range(round(NOTE_S / CORNER_S) + 1)]
    made = []
    for number in range(round(seconds / (NOTE_S + REST_S))):
        # Each number is one of its own, as those that are read from a table are.
        points = tuple(Breakpoint(at_s + 0.0, -50.0 + 20.0 * (step % 3), 0.5) for step, at_s in enumerate(corners))
        made.append(edited(number + 1, round(number * (NOTE_S + REST_S), 5), NOTE_S, 71, points=points))
    return made


def peak(work: Callable[[], object]) -> int:
    """The most that it needs at a time, in bytes."""
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def more_for(work: Callable[[float], Callable[[], object]]) -> float:
    """How much more memory it needs for a second more of the take, in bytes; ``work`` prepares it for so many."""
    # What is only loaded when it is first used counts for neither.
    work(SHORT_S)()
    return (peak(work(LONG_S)) - peak(work(SHORT_S))) / (LONG_S - SHORT_S)


def breakpoints_a_second() -> float:
    """How many there are in the take."""
    return sum(len(note.points) for note in notes_of(LONG_S)) / LONG_S


def test_tables_take_some_tens_of_bytes_a_breakpoint(tmp_path: Path) -> None:
    """Three numbers of eight bytes, their line while they are gathered, and what holds those of one note together."""

    def reading(seconds: float) -> Callable[[], object]:
        paths = tmp_path / "notes.csv", tmp_path / "inflections.csv"
        for path, text in zip(paths, (notes_csv(notes_of(seconds)), inflections_csv(notes_of(seconds))), strict=True):
            path.write_text(text, encoding="utf-8", newline="")
        return lambda: read_tables(*paths)

    assert more_for(reading) < 60.0 * breakpoints_a_second()


def test_what_is_read_of_a_midi_file_lies_on_the_disk(tmp_path: Path) -> None:
    """As much as a few numbers for each note, whatever its length; one value would take 16 bytes."""
    path = tmp_path / "performance.mid"

    def reading(seconds: float) -> Callable[[], object]:
        path.write_bytes(file_of(notes_of(seconds)))
        return lambda: read_midi(path, 11)

    assert more_for(reading) < 1500.0


def test_what_comes_back_from_a_sequencer_is_heard_note_by_note(tmp_path: Path) -> None:
    """Beside the notes of the tables nothing grows but a copy of each where one may be edited; no curve is held."""
    path = tmp_path / "performance.mid"

    def taking(seconds: float) -> Callable[[], object]:
        notes = notes_of(seconds)
        path.write_bytes(file_of(notes))
        reading = read_midi(path, 11)
        usual = Tolerance(3.0, 0.02)
        return lambda: taken_back(reading, notes, pitch_at=lambda _: SentPitch(), interval_s=0.004, tolerance=usual)

    assert more_for(taking) < 1500.0


def test_a_replay_keeps_no_event(tmp_path: Path) -> None:
    """Notes are looked through one by one: beside a copy of each note nothing grows, and no frame is kept."""
    ground = Ground(0.0, HARP.root_midi, HARP.root_hz, -40.0, -10.0, HEARING)

    def replaying(seconds: float) -> Callable[[], object]:
        notes = notes_of(seconds)
        return lambda: sum(1 for _ in replayed(notes, [ground], Reach(0.0, seconds)))

    assert more_for(replaying) < 1000.0


def test_telling_again_keeps_no_frame() -> None:
    """As much as one note more for each, whatever its length."""

    def telling(seconds: float) -> Callable[[], object]:
        notes = notes_of(seconds)
        wanted = {note.id for note in notes}
        return lambda: told_again(notes, wanted, [HEARING], [HarpSince(0.0, HARP)])

    assert more_for(telling) < 1500.0


@pytest.mark.parametrize("tempo", [None, Tempo(96.0, 0.0)])
def test_a_score_keeps_no_bar(tmp_path: Path, tempo: Tempo | None) -> None:
    """What is written goes to the file; a bar of it alone would be thousands of bytes."""

    def writing(seconds: float) -> Callable[[], object]:
        notes = notes_of(seconds)

        def write() -> None:
            with (tmp_path / "score.musicxml").open("wb") as out:
                write_score(out, notes, HARP, tempo)

        return write

    assert more_for(writing) < 1000.0


@pytest.mark.parametrize("seconds", [SHORT_S, LONG_S])
def test_what_is_measured_is_there(seconds: float) -> None:
    """The takes are as long as they say, and move all the time."""
    notes = notes_of(seconds)
    assert notes[-1].end_s == pytest.approx(seconds - REST_S, abs=NOTE_S)
    assert all(len(note.points) == round(NOTE_S / CORNER_S) + 1 for note in notes)
