"""Beats and bars of a take's MIDI file, as pretty_midi reads them; no time is moved for their sake."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import mido
import pretty_midi
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.takes.edited import EditedNote, Tempo
from bridge.takes.midi_beats import MidiBeats, has_beats
from takes.made_notes import any_notes, edited
from takes.sequencer import file_of

tempos = st.builds(Tempo, st.floats(20.0, 400.0), st.floats(-5.0, 30.0), st.integers(1, 16))
FOLDER_IS_SHARED = settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
#: A note late enough for some bars to begin.
LATE = edited(1, 8.0, 0.5, 71)


def read(folder: Path, notes: list[EditedNote], tempo: Tempo) -> Any:  # noqa: ANN401 -- it has no type information
    """The file of these notes."""
    path = folder / "performance.mid"
    path.write_bytes(file_of(notes, tempo=tempo))
    return pretty_midi.PrettyMIDI(str(path))


@pytest.mark.parametrize("bar_1_s", [0.0, 0.02, 0.31, 0.5, 1.9, 2.0, 3.3, 7.123])
@pytest.mark.parametrize("quarters", [3, 4])
def test_bar_1_falls_on_a_bar_line(tmp_path: Path, bar_1_s: float, quarters: int) -> None:
    """At 120 quarters a minute bars last 1.5 or 2 s: one begins at bar 1, and others before and after it."""
    found = read(tmp_path, [LATE], Tempo(120.0, bar_1_s, quarters))
    downbeats = list(found.get_downbeats())
    bar_s = 0.5 * quarters
    assert min(abs(at - bar_1_s) for at in downbeats) < 1e-4
    whole = [at for at in downbeats if at >= bar_1_s % bar_s - 1e-4]
    assert whole == pytest.approx([bar_1_s % bar_s + bar_s * number for number in range(len(whole))], abs=1e-4)
    # What comes before the first whole bar is one bar.
    assert len(downbeats) - len(whole) == (bar_1_s % bar_s > 0.0)
    (note,) = found.instruments[0].notes
    assert note.start == pytest.approx(8.0, abs=0.0006)


def test_a_pickup_is_as_long_as_comes_nearest() -> None:
    """Arithmetic: 0.5 s at 120 is a quarter, of that tempo; 0.52 s is a quarter that takes 4 % longer."""
    for bar_1_s, quarter_us in ((0.5, 500_000), (0.52, 520_000)):
        first, pickup, then, whole, marker = MidiBeats(Tempo(120.0, bar_1_s)).messages()
        assert (first.tempo, pickup.numerator, pickup.denominator) == (quarter_us, 1, 4)
        assert (then.time, then.tempo, whole.numerator, whole.denominator) == (960, 500_000, 4, 4)
        assert (marker.text, marker.time) == ("bar 1", 0)


@FOLDER_IS_SHARED
@given(any_notes(), tempos)
def test_no_time_is_moved(tmp_path: Path, notes: list[EditedNote], tempo: Tempo) -> None:
    """Wherever bar 1 lies, also before the beginning: as mido reads them notes begin within two ticks of their time."""
    (tmp_path / "performance.mid").write_bytes(file_of(notes, tempo=tempo))
    now_s, starts = 0.0, []
    for message in mido.MidiFile(tmp_path / "performance.mid"):
        now_s += message.time
        starts += [now_s] if message.type == "note_on" else []
    tick_s = max(tempo.quarter_s, 0.5) / 960
    assert starts == pytest.approx([note.start_s for note in notes], abs=2.0 * tick_s)


@given(tempos, st.floats(0.0, 100.0))
def test_ticks_and_seconds_go_both_ways(tempo: Tempo, time_s: float) -> None:
    """Within half a tick, and ticks rise with time."""
    beats = MidiBeats(tempo)
    tick = beats.tick(time_s)
    assert beats.tick(beats.time_s(tick)) == tick
    assert beats.time_s(tick) == pytest.approx(time_s, abs=1.2 * tempo.quarter_s / 960)
    assert beats.tick(time_s + 0.1) >= tick


@pytest.mark.parametrize("tempo", [None, Tempo(120.0, 0.0), Tempo(97.3, 3.3, 3), Tempo(97.3, -1.0)])
def test_a_file_is_known_by_its_beats(tmp_path: Path, tempo: Tempo | None) -> None:
    """Another tempo, another bar 1, none at all: not the same; nor is what is no file of ours."""
    path = tmp_path / "performance.mid"
    path.write_bytes(file_of([LATE], tempo=tempo))
    assert has_beats(path, tempo)
    assert not has_beats(path, Tempo(97.3, 3.2, 3))
    assert not has_beats(path, Tempo(90.0, 0.0))
    assert has_beats(path, None) == (tempo is None)
    path.write_bytes(path.read_bytes()[:30])
    assert not has_beats(path, tempo)
    assert not has_beats(tmp_path / "gone.mid", tempo)
