"""Tables -> MIDI -> notes: within one bend step and one tick, whoever has saved the file."""

from __future__ import annotations

from pathlib import Path

import mido
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.base.errors import ManyFaultsError, UserError
from bridge.send.midi_settings import MidiSettings
from bridge.takes.curves import stays_near
from bridge.takes.edited import Breakpoint, EditedNote, Tempo
from bridge.takes.midi_reading import MidiReading, ReadNote, range_in, read_midi
from takes.made_notes import any_notes, edited
from takes.sequencer import SAVINGS, file_of, saved, with_more

#: 60 / (120 * 960) s.
TICK_S = 1 / 1920
BREATH = 11
FOLDER_IS_SHARED = settings(suppress_health_check=[HealthCheck.function_scoped_fixture])


def read(folder: Path, data: bytes) -> MidiReading:
    """What is read of a file."""
    path = folder / "performance.mid"
    path.write_bytes(data)
    return read_midi(path, BREATH)


def is_near(note: EditedNote, got: ReadNote, step_cents: float, tick_s: float) -> bool:
    """Whether bends and breath are those of the table, to a step and a tick; as the file has them, not yet fitted."""
    corners = [point.at_s for point in note.points]
    until_s = min(note.length_s, got.length_s) - 1e-9
    lines = (
        (got.bends, [point.bend_cents for point in note.points], step_cents),
        (got.breaths, [point.breath for point in note.points], 1 / 127),
    )
    near = []
    for values, table, within in lines:
        times, heights = map(np.array, zip(*values, strict=True))
        limits = {"until_s": until_s, "slack_s": tick_s, "within": within + 1e-6}
        near.append(stays_near(times, heights, np.array(corners), np.array(table), **limits))
    return all(near)


@FOLDER_IS_SHARED
@given(
    any_notes(),
    st.booleans(),
    st.sampled_from([None, Tempo(96.0, 0.7), Tempo(177.3, 0.0, 3)]),
    st.sampled_from(sorted(SAVINGS)),
)
def test_every_note_comes_back(
    tmp_path: Path, notes: list[EditedNote], mpe: bool, tempo: Tempo | None, saving: str
) -> None:
    """Number and velocity are the same, times within a tick of rounding, each bend and breath within a step."""
    got = read(tmp_path, SAVINGS[saving](file_of(notes, mpe=mpe, tempo=tempo)))
    assert [(note.midi_note, note.velocity) for note in got.notes] == [
        (note.midi_note, note.velocity) for note in notes
    ]
    # Values stand one tick before their note, which begins a tick later where the last one ends there.
    tick_s = 2.0 * max(got.tick_s, TICK_S)
    for note, back in zip(notes, got.notes, strict=True):
        assert back.start_s == pytest.approx(note.start_s, abs=tick_s)
        assert back.end_s == pytest.approx(note.end_s, abs=tick_s)
        assert back.step_cents == (4800 if mpe else 200) / 8192
        assert is_near(note, back, back.step_cents, tick_s)


@FOLDER_IS_SHARED
@given(any_notes())
def test_lines_between_the_bends_are_the_curve(tmp_path: Path, notes: list[EditedNote]) -> None:
    """Also at the breakpoints of the table, where a bend was held for long and then moves."""
    for note, back in zip(notes, read(tmp_path, file_of(notes)).notes, strict=True):
        times, cents = map(np.array, zip(*back.bends, strict=True))
        after = [*(point.at_s for point in note.points[1:]), np.inf]
        # Of corners within two ticks a file holds the last.
        kept = [point for point, then in zip(note.points, after, strict=True) if then - point.at_s > 2 * TICK_S]
        corners = np.array([point.at_s for point in kept])
        table = np.array([point.bend_cents for point in kept])
        until_s = min(note.length_s, back.length_s) - 2 * TICK_S
        assert stays_near(
            corners, table, times, cents, until_s=until_s, slack_s=2 * TICK_S, within=back.step_cents + 1e-6
        )


def test_the_range_of_the_file_counts(tmp_path: Path) -> None:
    """RPN 0 says it (MIDI 1.0, 4.2.1); a file that says nothing has the usual two semitones unless told."""
    note = edited(1, 0.5, 0.5, 71, points=(Breakpoint(0.0, -150.0, 0.5),))
    (got,) = read(tmp_path, file_of([note], midi=MidiSettings(bend_range=12))).notes
    assert [bend for _, bend in got.bends] == [pytest.approx(-150.0, abs=1200 / 8192 / 2)]
    plain = [
        (0, mido.Message("pitchwheel", pitch=-4096)),
        (960, mido.Message("note_on", note=60, velocity=90)),
        (1920, mido.Message("note_off", note=60)),
    ]
    reading = read(tmp_path, saved(plain))
    (got,) = reading.notes
    assert (got.start_s, got.length_s, list(got.bends), list(got.breaths)) == (0.5, 0.5, [(0.0, -100.0)], [])
    assert (reading.sets_range, range_in(tmp_path / "performance.mid")) == (False, None)
    (got,) = read_midi(tmp_path / "performance.mid", BREATH, 1200.0).notes
    assert list(got.bends) == [(0.0, -600.0)]
    fine = [mido.Message("control_change", control=number, value=value) for number, value in ((101, 0), (100, 0))]
    fine += [mido.Message("control_change", control=number, value=value) for number, value in ((6, 3), (38, 50))]
    (got,) = read(tmp_path, saved([*((0, message) for message in fine), *plain])).notes
    assert list(got.bends) == [(0.0, -175.0)]
    assert range_in(tmp_path / "performance.mid") == 350.0


def test_a_note_without_an_end_ends_with_the_file(tmp_path: Path) -> None:
    """And one that begins again where it sounds ends there: no note hangs."""
    hanging = [(0, mido.Message("note_on", note=60)), (960, mido.Message("note_on", note=60))]
    hanging += [(1920, mido.Message("control_change", control=7, value=100))]
    got = read(tmp_path, saved(hanging))
    assert [(note.start_s, note.length_s) for note in got.notes] == [(0.0, 0.5), (0.5, 0.5)]


def test_a_file_without_the_breath_controller_is_read_by_its_pressure(tmp_path: Path) -> None:
    """Channel pressure is the breath of an MPE file."""
    note = edited(1, 0.5, 0.5, 71, points=(Breakpoint(0.0, 0.0, 0.25),))
    (got,) = read(tmp_path, file_of([note], mpe=True)).notes
    assert [breath for _, breath in got.breaths] == [pytest.approx(0.25, abs=0.5 / 127)]


def test_notes_at_once_are_told_each(tmp_path: Path) -> None:
    """A take has one note at a time; rounding is forgiven."""
    notes = [edited(1, 0.0, 1.0, 60), edited(2, 1.0, 1.0, 62), edited(3, 2.0, 1.0, 64)]
    chord = [(tick, mido.Message("note_on", channel=3, note=70)) for tick in (960, 3840)]
    chord += [(tick, mido.Message("note_off", channel=3, note=70)) for tick in (1000, 4000)]
    with pytest.raises(ManyFaultsError) as raised:
        read(tmp_path, with_more(file_of(notes), chord))
    told = [str(error) for error in raised.value.errors]
    assert told[0].endswith(
        "found note 70 at 0.500 s while note 60 sounds to 1.000 s, allowed: one note at a time. Shorten the first one."
    )
    assert len(told) >= 2
    late = [
        (tick, message)
        for tick, message in [(0, mido.Message("note_on", note=60)), (962, mido.Message("note_off", note=60))]
    ]
    late += [(960, mido.Message("note_on", channel=1, note=62)), (1920, mido.Message("note_off", channel=1, note=62))]
    first, second = read(tmp_path, saved(sorted(late, key=lambda one: one[0]))).notes
    assert (first.end_s, second.start_s) == (0.5, 0.5)


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"no music", "cannot be read"),
        (b"", "damaged or no Standard MIDI File"),
        (b"MThd\0\0\0\6\0\2\0\1\3\xc0MTrk\0\0\0\4\0\xff\x2f\0", "found a file of format 2, allowed: 0 or 1"),
        (file_of([edited(1, 0.5, 0.5, 71)])[:90], "damaged or no Standard MIDI File"),
    ],
)
def test_what_is_no_midi_file_is_told(tmp_path: Path, data: bytes, told: str) -> None:
    """With its name and what to do."""
    with pytest.raises(UserError, match=told):
        read(tmp_path, data)
    with pytest.raises(UserError, match="No such file"):
        read_midi(tmp_path / "gone.mid", BREATH)
