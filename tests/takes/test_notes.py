"""``notes.csv``: one row a note, its degree where it dwelt longest, its hole where it can be told."""

from __future__ import annotations

import csv
import io
from itertools import pairwise

import pytest
from hypothesis import given

from bridge.base.events import Event, NoteOn
from bridge.harp.harp import make_harp
from bridge.takes.notes import NoteRow, NotesDeriver, as_edited, notes_csv
from send.made_events import any_events, inflection, note_off, note_on, point

#: As users are told: format 1 of a take.
HEADER = "id,start_s,length_s,midi_note,degree,velocity,hole,air,reed,reed_bend_cents,or_else"


def derive(events: list[Event], key: str = "C") -> list[NoteRow]:
    """The rows of these events on a harp in that key."""
    deriver = NotesDeriver(make_harp(key, 2, 440.0))
    ended = [deriver.add(event) for event in events]
    ended.append(deriver.finish(events[-1].time_s if events else 0.0))
    return [row for row in ended if row is not None]


def reed(row: NoteRow) -> tuple[int, str]:
    """Hole and air of a row that has them."""
    assert row.reading is not None
    return row.reading.hole, row.reading.air


def test_a_third_released_upwards_is_one_row_at_the_degree_it_dwelt_on() -> None:
    """Begun as b3 for a tenth, then 3 for four: degree 3, draw 3 of a C harp (B4; OEIS A291810 gives the layout)."""
    events: list[Event] = [point(1.0, hz=466.16), note_on(1.0, 1, 71, degree="b3", bend_cents=-100.0)]
    for step in range(1, 50):
        time_s = 1.0 + 0.01 * step
        minor = step < 10
        events += [
            point(time_s, hz=466.16 if minor else 493.88),
            inflection(time_s, 1, degree="b3" if minor else "3"),
        ]
    events.append(note_off(1.5))
    (row,) = derive(events)
    assert (row.id, row.midi_note, row.degree, row.velocity, *reed(row)) == (1, 71, "3", 96, 3, "draw")
    assert (row.start_s, row.length_s) == (1.0, 0.5)


def test_what_counts_is_the_time_and_not_the_number_of_events() -> None:
    """Ten quick moves at b3 weigh less than one long stay at 3."""
    quick: list[Event] = [inflection(0.001 * step, degree="b3") for step in range(1, 11)]
    (row,) = derive([note_on(0.0, degree="b3"), *quick, inflection(0.011, degree="3"), note_off(0.5)])
    assert row.degree == "3"


# Ten-hole layout on a C harp: OEIS A291810 (hole 4 blow C5, hole 1 draw D4, hole 6 blow G5, hole 10 blow C7).
@pytest.mark.parametrize(("hz", "hole", "air"), [(523.25, 4, "blow"), (293.66, 1, "draw"), (783.99, 6, "blow")])
def test_hole_and_air_follow_from_the_pitch(hz: float, hole: int, air: str) -> None:
    """Straight reeds of a C harp are told by their pitch."""
    (row,) = derive([point(0.0, hz=hz), note_on(0.0), note_off(0.5)])
    assert reed(row) == (hole, air)


def test_a_note_that_was_never_heard_has_no_hole() -> None:
    """Without a pitch all about the reed stays empty."""
    (row,) = derive([note_on(0.0), note_off(0.5)])
    assert row.reading is None
    assert notes_csv([as_edited(row, ())]) == f"{HEADER}\n1,0.00000,0.50000,71,3,96,,,,,\n"


@given(any_events)
def test_every_note_gets_one_row_and_the_table_is_read_back(events: list[Event]) -> None:
    """Whatever the order, rows are the Note Ons in order, within bounds, and come back out of the text."""
    rows = derive(events)
    begun = [event for event in events if isinstance(event, NoteOn)]
    assert [(row.id, row.start_s, row.midi_note) for row in rows] == [
        (event.note_id, event.time_s, event.midi_note) for event in begun
    ]
    for row in rows:
        assert row.length_s >= 0.0
        assert 1 <= row.velocity <= 127
    for before, after in pairwise(rows):
        assert before.start_s + before.length_s <= after.start_s + 1e-9
    read = list(csv.DictReader(io.StringIO(notes_csv(as_edited(row, ()) for row in rows), newline="")))
    for got, row in zip(read, rows, strict=True):
        assert (int(got["id"]), int(got["midi_note"]), int(got["velocity"])) == (row.id, row.midi_note, row.velocity)
        assert abs(float(got["start_s"]) - row.start_s) <= 5.1e-6
        assert abs(float(got["length_s"]) - row.length_s) <= 5.1e-6
        told = ("", "") if row.reading is None else (str(row.reading.hole), row.reading.air)
        assert (got["degree"], got["hole"], got["air"]) == (row.degree, *told)
        assert bool(got["or_else"]) is (row.reading is not None and row.reading.ambiguous)
