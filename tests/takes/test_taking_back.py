"""What was edited in a sequencer comes back into the tables; what was not stays to the last digit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import mido
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.base.errors import UserError
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from bridge.takes.breakpoints import Tolerance
from bridge.takes.edited import Breakpoint, EditedNote, Tempo
from bridge.takes.inflections import inflections_csv
from bridge.takes.midi_reading import read_midi
from bridge.takes.notes import notes_csv
from bridge.takes.tables import read_tables
from bridge.takes.taking_back import TakenBack, taken_back
from takes.made_notes import any_notes, edited
from takes.sequencer import SAVINGS, file_of, placed, saved, transposed, with_more, without

TICKS_PER_SECOND = 1920
#: Select RPN 0 and set it (MIDI 1.0, 4.2.1).
RANGE_127 = ((101, 0), (100, 0), (6, 127), (38, 0))
USUAL = Tolerance(3.0, 0.04)
#: Breakpoints stand on frames, 1.33 ms apart, in 10 us; two within a tick would be one in a file.
FRAME = 133
#: A scooped third, a steady root and a falling fifth, each half a second and as long apart.
THREE = (
    edited(1, 0.5, 0.5, 71, points=(Breakpoint(0.012, -90.0, 0.3), Breakpoint(0.25, -14.0, 0.6))),
    edited(2, 1.5, 0.5, 67, degree="1", points=(Breakpoint(0.012, 0.0, 0.5),)),
    edited(4, 2.5, 0.5, 74, degree="5", points=(Breakpoint(0.012, 0.0, 0.7), Breakpoint(0.45, -60.0, 0.2))),
)


def back(folder: Path, data: bytes, tables: Sequence[EditedNote] = THREE, pitch: SentPitch | None = None) -> TakenBack:
    """What a file brings back into these tables."""
    path = folder / "performance.mid"
    path.write_bytes(data)
    sent = pitch or SentPitch()
    return taken_back(read_midi(path, 11), tables, pitch_at=lambda _: sent, interval_s=0.004, tolerance=USUAL)


def tick(seconds: float) -> int:
    """The tick of a time in a file with no tempo known."""
    return round(seconds * TICKS_PER_SECOND)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(
    any_notes(apart=FRAME),
    st.booleans(),
    st.sampled_from([None, Tempo(96.0, 0.7)]),
    st.sampled_from(sorted(SAVINGS)),
    st.sampled_from([SentPitch(), SentPitch(0.5, 11.8)]),
)
def test_tables_to_midi_to_tables_is_the_same_tables(
    tmp_path: Path, notes: list[EditedNote], mpe: bool, tempo: Tempo | None, saving: str, pitch: SentPitch
) -> None:
    """Whatever has saved the file: nothing counts as edited where nobody has edited anything."""
    midi = MidiSettings(mode="mpe" if mpe else "single", bend_range=3)
    data = SAVINGS[saving](file_of(notes, midi=midi, mpe=mpe, tempo=tempo, pitch=pitch))
    taken = back(tmp_path, data, notes, pitch)
    assert list(taken.notes) == notes
    assert [taken.edited, taken.added, taken.removed, taken.untold] == [frozenset()] * 4


def test_transposed_notes_keep_their_curves(tmp_path: Path) -> None:
    """Only the number changes; degree and reed must be told anew."""
    taken = back(tmp_path, transposed(file_of(THREE), 5))
    assert [note.midi_note for note in taken.notes] == [76, 72, 79]
    assert [note.points for note in taken.notes] == [note.points for note in THREE]
    assert taken.edited == taken.untold == {1, 2, 4}


def test_a_moved_note_keeps_id_and_curve(tmp_path: Path) -> None:
    """Its start is that of the file; the others stay as they are."""
    moved = [
        (at + (tick(0.25) if 1.4 * TICKS_PER_SECOND < at <= 2.1 * TICKS_PER_SECOND else 0), message)
        for at, message in placed(file_of(THREE))
    ]
    taken = back(tmp_path, saved(moved))
    assert [note.id for note in taken.notes] == [1, 2, 4]
    assert taken.notes[1].start_s == pytest.approx(1.75, abs=0.001)
    assert taken.notes[1].points == THREE[1].points
    assert (taken.notes[0], taken.notes[2]) == (THREE[0], THREE[2])
    assert taken.edited == {2}
    assert taken.untold == frozenset()


def test_notes_can_be_taken_out_and_put_in(tmp_path: Path) -> None:
    """A new note has the next free id, the bend that is in force, and as much breath as the last one had."""
    data = without(file_of(THREE), lambda _, message: message.type.startswith("note") and message.note == 71)
    data = with_more(
        data,
        [
            (tick(3.5), mido.Message("pitchwheel", pitch=4096)),
            (tick(3.6), mido.Message("note_on", note=60, velocity=40)),
            (tick(3.9), mido.Message("note_off", note=60)),
        ],
    )
    taken = back(tmp_path, data)
    assert [note.id for note in taken.notes] == [2, 4, 5]
    new = taken.notes[-1]
    assert (new.midi_note, new.velocity, new.degree, new.hole) == (60, 40, "", None)
    assert new.points[0].bend_cents == pytest.approx(100.0, abs=0.01)
    assert new.points[0].breath == pytest.approx(0.2, abs=0.02)
    assert taken.added == {5}
    assert taken.removed == {1}
    assert taken.edited == frozenset()


def test_a_note_put_in_beside_the_greatest_id_has_a_free_one(tmp_path: Path) -> None:
    """A table takes ids up to 10^9: what comes back can be read again, with the lowest id that is free."""
    tables = [*THREE[:2], replace(THREE[2], id=10**9)]
    more = [(tick(at), mido.Message("note_on", note=60, velocity=96 * (at < 3.9))) for at in (3.6, 3.9)]
    taken = back(tmp_path, with_more(file_of(THREE), more), tables)
    assert [note.id for note in taken.notes] == [1, 2, 10**9, 3]
    assert taken.added == taken.untold == {3}
    assert taken.edited | taken.removed == frozenset()
    (tmp_path / "notes.csv").write_text(notes_csv(taken.notes), encoding="utf-8")
    (tmp_path / "inflections.csv").write_text(inflections_csv(taken.notes), encoding="utf-8")
    assert [note.id for note in read_tables(tmp_path / "notes.csv", tmp_path / "inflections.csv")] == [1, 2, 10**9, 3]


def test_a_bend_that_was_drawn_anew_is_taken_back_as_drawn(tmp_path: Path) -> None:
    """Within the tolerance of breakpoints, with few of them; the number of the note stays."""
    inside = range(tick(2.5) - 2, tick(3.0))
    data = without(file_of(THREE), lambda at, message: message.type == "pitchwheel" and at in inside)
    drawn = [(at, mido.Message("pitchwheel", pitch=-20 * (at - tick(2.5)))) for at in range(tick(2.5), tick(2.7), 8)]
    taken = back(tmp_path, with_more(data, drawn))
    note = taken.notes[2]
    for at, message in drawn[1:]:
        cents = message.pitch / 8192 * 200
        assert note.at(at / TICKS_PER_SECOND - 2.5).bend_cents == pytest.approx(cents, abs=3.0 + 1.2)
    assert len(note.points) <= 6
    assert taken.edited == taken.untold == {4}


def test_a_bend_that_leaps_after_it_was_held_leaps(tmp_path: Path) -> None:
    """Between two bends far apart no line is drawn: a synth would hold the first."""
    data = with_more(file_of(THREE), [(tick(1.75), mido.Message("pitchwheel", pitch=4096))])
    note = back(tmp_path, data).notes[1]
    assert note.at(0.24).bend_cents == pytest.approx(0.0, abs=0.1)
    assert note.at(0.26).bend_cents == pytest.approx(100.0, abs=0.1)


def test_a_shortened_note_ends_its_curve_there(tmp_path: Path) -> None:
    """No breakpoint lies beyond the end, and what is left is as it was."""
    data = without(file_of(THREE), lambda _, message: message.type == "note_off" and message.note == 74)
    taken = back(tmp_path, with_more(data, [(tick(2.7), mido.Message("note_off", note=74))]))
    note = taken.notes[2]
    assert note.length_s == pytest.approx(0.2, abs=0.001)
    assert note.points[-1].at_s == note.length_s
    for at_s in (0.0, 0.1, 0.19):
        assert note.at(at_s).bend_cents == pytest.approx(THREE[2].at(at_s).bend_cents, abs=0.01)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(any_notes(apart=FRAME), st.sampled_from([None, Tempo(96.0, 0.7)]))
def test_notes_drawn_out_to_the_next_make_tables_that_can_be_read(
    tmp_path: Path, notes: list[EditedNote], tempo: Tempo | None
) -> None:
    """Legato, as every sequencer offers it: a note ends at the tick of the next, whose time is that of the tables."""
    messages = placed(file_of(notes, tempo=tempo))
    begins = [at for at, message in messages if message.type == "note_on"]
    ends = iter(begins[1:])
    drawn = [(next(ends, at) if message.type == "note_off" else at, message) for at, message in messages]
    taken = back(tmp_path, saved(sorted(drawn, key=lambda one: one[0])), notes)
    (tmp_path / "notes.csv").write_text(notes_csv(taken.notes), encoding="utf-8")
    (tmp_path / "inflections.csv").write_text(inflections_csv(taken.notes), encoding="utf-8")
    read = read_tables(tmp_path / "notes.csv", tmp_path / "inflections.csv")
    assert [note.id for note in read] == [note.id for note in notes]
    for before, after in pairwise(read):
        # An end within some three ticks of that of the tables stays, and each tick is rounded by half of one.
        assert before.end_s == pytest.approx(after.start_s, abs=4 / TICKS_PER_SECOND)


def test_bends_that_no_table_holds_are_refused(tmp_path: Path) -> None:
    """A bend range of 127 semitones, the most that RPN 0 can say, all of it bent."""
    data = saved(
        [
            *((0, mido.Message("control_change", control=number, value=value)) for number, value in RANGE_127),
            (0, mido.Message("pitchwheel", pitch=8191)),
            (10, mido.Message("note_on", note=60, velocity=40)),
            (990, mido.Message("note_off", note=60)),
        ]
    )
    with pytest.raises(UserError, match=r"note 60 at 0\.005 s by 126\d\d cents; allowed are -9600 to 9600"):
        back(tmp_path, data)


def test_a_file_written_as_it_was_played_brings_no_edits_of_its_own(tmp_path: Path) -> None:
    """The tables keep within 3 cents of what was played; what the file has nearer than that is no edit."""
    played = [
        edited(note.id, note.start_s, note.length_s, note.midi_note, degree=note.degree, points=wavy)
        for note in THREE
        for wavy in [
            tuple(
                Breakpoint(0.01 + 0.008 * step, note.at(0.01 + 0.008 * step).bend_cents + 2.4 * (-1) ** step, 0.5)
                for step in range(60)
            )
        ]
    ]
    flat = [
        edited(
            *(note.id, note.start_s, note.length_s, note.midi_note),
            degree=note.degree,
            points=tuple(Breakpoint(point.at_s, point.bend_cents, 0.5) for point in note.points),
        )
        for note in THREE
    ]
    taken = back(tmp_path, file_of(played), flat)
    assert list(taken.notes) == flat
    louder = [
        message.copy(velocity=120) if message.type == "note_on" else message for _, message in placed(file_of(played))
    ]
    changed = saved([(at, message) for (at, _), message in zip(placed(file_of(played)), louder, strict=True)])
    again = back(tmp_path, changed, flat)
    assert [note.velocity for note in again.notes] == [120] * 3
    assert [note.points for note in again.notes] == [note.points for note in flat]


def test_a_take_without_bends_cannot_have_them_back(tmp_path: Path) -> None:
    """With no strength nothing of them went out, and that is told."""
    with pytest.raises(UserError, match=r"send\.strength is 0"):
        back(tmp_path, file_of(THREE), pitch=SentPitch(0.0))
