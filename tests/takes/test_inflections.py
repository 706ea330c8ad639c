"""Breakpoints derived from events: near every frame, with memory for the note that sounds alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import Event, Inflection, NoteOn
from bridge.takes.breakpoints import Tolerance
from bridge.takes.edited import Breakpoint
from bridge.takes.inflections import InflectionsDeriver
from bridge.takes.notes import NotesDeriver, as_edited
from bridge.takes.tables import read_tables
from bridge.takes.tables_derived import TablesDeriver
from send.made_events import any_events, inflection, note_off, note_on, point

USUAL = Tolerance(3.0, 0.04)
HOP_S = 64 / 48000


def long_note(frames: int) -> list[Event]:
    """A note with a vibrato of 6 Hz and 50 cents that begins 12 ms after its attack."""
    first = inflection(0.112, bend_cents=0.0, breath=0.2)
    events: list[Event] = [NoteOn(1, 0.1, 0.116, 71, 0.75, first)]
    for frame in range(1, frames):
        time_s = 0.112 + frame * HOP_S
        events.append(inflection(time_s, bend_cents=50.0 * float(np.sin(37.7 * frame * HOP_S)), breath=0.5))
    return events


def strays(events: list[Event], points: tuple[Breakpoint, ...], start_s: float) -> float:
    """How far the curve of the points is from the frames at most, cents."""
    frames = [event for event in events if isinstance(event, Inflection)]
    times = [event.time_s - start_s for event in frames]
    line = np.interp(times, [point.at_s for point in points], [point.bend_cents for point in points])
    return float(np.max(np.abs(line - [event.bend_cents for event in frames])))


def test_the_first_breakpoint_is_where_the_pitch_was_first_heard() -> None:
    """The attack is earlier: the curve begins 12 ms into the note."""
    deriver = InflectionsDeriver(USUAL)
    events = long_note(100)
    for event in events:
        deriver.add(event)
    points = deriver.take(0.5)
    assert points[0] == Breakpoint(0.012, 0.0, 0.2)
    assert strays(events, points, 0.1) <= 3.01


def test_frames_after_the_end_of_a_note_are_no_part_of_it() -> None:
    """A note ends where its pitch was lost: no breakpoint lies beyond."""
    deriver = InflectionsDeriver(USUAL)
    for event in long_note(300):
        deriver.add(event)
    points = deriver.take(0.2)
    assert points[-1].at_s <= 0.2
    assert points[-1].at_s == pytest.approx(0.2, abs=HOP_S)


def test_a_note_that_goes_on_for_minutes_is_fitted_in_portions() -> None:
    """After three minutes no more than ten seconds of frames are held, and every frame is kept to all the same."""
    deriver = InflectionsDeriver(USUAL)
    events = long_note(135_000)
    most = 0
    for event in events:
        deriver.add(event)
        most = max(most, len(deriver._at_s))
    assert most <= 8192
    points = deriver.take(180.1)
    assert strays(events, points, 0.1) <= 3.01
    assert len(points) < 135_000 / 15
    times = [point.at_s for point in points]
    assert times == sorted(set(times))


@given(any_events)
def test_any_events_give_tables_that_can_be_read(tmp_path_factory: pytest.TempPathFactory, events: list[Event]) -> None:
    """Whatever is heard, each note that ended has breakpoints inside it, and the reader finds no fault."""
    folder = tmp_path_factory.mktemp("tables")
    renumbered = _with_ids_of_their_own(events)
    with TablesDeriver(None, USUAL, "signs", folder) as deriver:
        for event in renumbered:
            deriver.add(event)
        deriver.finish(renumbered[-1].time_s if renumbered else 0.0)
        deriver.write_notes(folder / "notes.csv")
        deriver.write_inflections(folder / "inflections.csv")
    notes = read_tables(folder / "notes.csv", folder / "inflections.csv")
    assert [note.id for note in notes] == [event.note_id for event in renumbered if isinstance(event, NoteOn)]
    assert [note.start_s for note in notes] == pytest.approx(list(deriver.starts_s), abs=1e-5)
    for note in notes:
        assert note.points[-1].at_s <= note.length_s + 1e-9


def _with_ids_of_their_own(events: list[Event]) -> list[Event]:
    """The events with a new id for each note that begins, as the quantiser gives them."""
    number, ids, renewed = 0, dict[int, int](), list[Event]()
    for event in events:
        if isinstance(event, NoteOn):
            number += 1
            ids[event.note_id] = number
            first = event.inflection
            renewed.append(
                note_on(event.time_s, number, event.midi_note, bend_cents=first.bend_cents, breath=first.breath)
            )
        elif isinstance(event, Inflection):
            same = ids.get(event.note_id, 0)
            renewed.append(inflection(event.time_s, same, bend_cents=event.bend_cents, breath=event.breath))
        elif not hasattr(event, "hz"):
            renewed.append(note_off(event.time_s, ids.get(event.note_id, 0)))
        else:
            renewed.append(event)
    return renewed


@given(st.lists(st.floats(-100.0, 100.0), min_size=1, max_size=40))
def test_a_row_and_its_breakpoints_belong_together(bends: list[float]) -> None:
    """The note has the id and the length of its row; its breakpoints are those of its own frames."""
    notes, inflections = NotesDeriver(None), InflectionsDeriver(USUAL)
    events: list[Event] = [point(0.0), note_on(0.0, bend_cents=bends[0])]
    events += [inflection(0.01 * step, bend_cents=bend) for step, bend in enumerate(bends[1:], start=1)]
    for event in [*events, note_off(0.01 * len(bends))]:
        row = notes.add(event)
        inflections.add(event)
    assert row is not None
    note = as_edited(row, inflections.take(row.length_s))
    assert note.id == 1
    assert note.length_s == pytest.approx(0.01 * len(bends))
    for step, bend in enumerate(bends):
        assert note.at(0.01 * step).bend_cents == pytest.approx(bend, abs=3.02)
