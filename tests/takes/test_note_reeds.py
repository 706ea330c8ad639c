"""Which reed a note of ``notes.csv`` has: where it was held, what the note before it says, and what is told of it."""

from __future__ import annotations

import csv
import io
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import Event
from bridge.harp.harp import make_harp
from bridge.harp.layout import Layout
from bridge.takes.notes import PHRASE_REST_S, NoteRow, NotesDeriver, as_edited, dwelt_hz, notes_csv
from send.made_events import inflection, note_off, note_on, point

# Ten-hole layout of a C harp: OEIS A291810; draw 2 and blow 3 are both G4. Equal temperament at 440 Hz.
D4, E4, G4, AB4, B4, C5, D5, BB5 = 293.66, 329.63, 392.0, 415.30, 493.88, 523.25, 587.33, 932.33


def played(*notes: tuple[float, float]) -> list[NoteRow]:
    """Rows of notes on a C harp, each half a second long: when it begins, and Hz."""
    deriver = NotesDeriver(make_harp("C", 2, 440.0))
    return [row for start, hz in notes for row in _sound(deriver, start, [hz])]


def _sound(deriver: NotesDeriver, start: float, pitches: list[float], length_s: float = 0.5) -> list[NoteRow]:
    """Play one note whose pitch goes through ``pitches`` (Hz) in equal steps."""
    times = start + length_s * np.arange(len(pitches)) / len(pitches)
    events: list[Event] = [point(start, hz=pitches[0]), note_on(start)]
    for time_s, hz in zip(times[1:], pitches[1:], strict=True):
        events += [point(float(time_s), hz=hz), inflection(float(time_s))]
    ended = [deriver.add(event) for event in (*events, note_off(start + length_s))]
    return [row for row in ended if row is not None]


def tells(row: NoteRow) -> tuple[str, ...]:
    """What the table says of the reed."""
    (told,) = csv.DictReader(io.StringIO(notes_csv([as_edited(row, ())]), newline=""))
    return tuple(told[name] for name in ("hole", "air", "reed", "reed_bend_cents", "or_else"))


@pytest.mark.parametrize(
    ("hz", "told"),
    [
        (C5, ("4", "blow", "straight", "0.0", "")),
        (B4 * 2 ** (-12 / 1200), ("3", "draw", "straight", "-12.0", "")),
        (AB4, ("3", "draw", "bend", "-300.0", "")),
        (BB5, ("6", "blow", "overblow", "0.0", "")),
        (BB5 * 2 ** (3 / 12), ("7", "draw", "overdraw", "0.0", "")),
        (G4, ("2", "draw", "straight", "0.0", "blow 3")),
    ],
)
def test_the_table_tells_how_the_reed_was_played(hz: float, told: tuple[str, ...]) -> None:
    """Straight, bent by so much, overblown or overdrawn, and the other reed of the same note."""
    (row,) = played((0.0, hz))
    assert tells(row) == told


def test_a_rival_that_would_be_bent_is_told_as_a_bend() -> None:
    """In this made-up layout draw 1 bends to the note of blow 2."""
    harp = make_harp("C", 1, 440.0, Layout("mine", (0, 3), (6, 10)))
    (row,) = _sound(NotesDeriver(harp), 0.0, [harp.hole1_hz * 2 ** (3 / 12)])
    assert tells(row) == ("2", "blow", "straight", "0.0", "draw 1 bend")


@pytest.mark.parametrize(("before", "told"), [(E4, ("3", "blow")), (B4, ("2", "draw")), (D5, ("2", "draw"))])
def test_the_note_before_decides_between_two_reeds(before: float, told: tuple[str, str]) -> None:
    """G4 is blow 3 after blow 2 and draw 2 after a drawn note, the other is told (common practice, no source)."""
    _, row = played((0.0, before), (0.6, G4))
    other = {("3", "blow"): "draw 2", ("2", "draw"): "blow 3"}[told]
    assert tells(row) == (*told, "straight", "0.0", other)


def test_a_breath_goes_on_through_several_notes() -> None:
    """Three times G4 after blow 2 are three times blow 3."""
    rows = played((0.0, E4), (0.6, G4), (1.2, G4), (1.8, G4))
    assert [tells(row)[:2] for row in rows] == [("2", "blow"), *[("3", "blow")] * 3]


@pytest.mark.parametrize(("rest_s", "told"), [(PHRASE_REST_S - 0.01, ("3", "blow")), (PHRASE_REST_S, ("2", "draw"))])
def test_a_rest_between_phrases_forgets_the_breath(rest_s: float, told: tuple[str, str]) -> None:
    """After a rest of a second nothing goes on: G4 is the drawn one, the stronger habit in cross position."""
    _, row = played((0.0, E4), (0.5 + rest_s, G4))
    assert tells(row)[:2] == told


def test_another_harp_forgets_the_breath_and_counts_from_the_next_note() -> None:
    """D5 is draw 4 of a C harp and blow 4 of a D harp, and says nothing of the harp that is taken up after it."""
    c_harp, g_harp, d_harp = (make_harp(key, 2, 440.0) for key in ("C", "G", "D"))
    deriver = NotesDeriver(c_harp)
    rows = _sound(deriver, 0.0, [D5])
    deriver.use(d_harp)
    rows += _sound(deriver, 0.6, [D5])
    deriver.use(g_harp)
    # D4 is draw 2 and blow 3 of a G harp: the blown note before it was another harp's.
    rows += _sound(deriver, 1.2, [D4])
    assert [tells(row)[:2] for row in rows] == [("4", "draw"), ("4", "blow"), ("2", "draw")]
    assert [row.harp for row in rows] == [c_harp, d_harp, g_harp]


def test_the_same_harp_again_changes_nothing() -> None:
    """A harp that is told of again and again, at an A4 that is heard better and better, does not end a breath."""
    deriver = NotesDeriver(make_harp("C", 2, 440.0))
    _sound(deriver, 0.0, [E4])
    deriver.use(make_harp("C", 2, 441.0))
    (row,) = _sound(deriver, 0.6, [G4])
    assert tells(row)[:2] == ("3", "blow")


def test_a_harp_taken_up_while_a_note_sounds_is_not_that_of_the_note() -> None:
    """The note is told by the harp that it began on, and its breath does not go over to the new one."""
    deriver = NotesDeriver(make_harp("C", 2, 440.0))
    rows = [deriver.add(event) for event in (point(0.0, hz=C5), note_on(0.0))]
    deriver.use(make_harp("G", 2, 440.0))
    rows.append(deriver.add(note_off(0.5)))
    told = [tells(row)[:2] for row in [*rows, *_sound(deriver, 0.6, [D4])] if row is not None]
    assert told == [("4", "blow"), ("2", "draw")]


def test_without_a_harp_there_are_rows_without_reeds() -> None:
    """Where nobody knows the harp the notes are there all the same."""
    deriver = NotesDeriver(None)
    (row,) = _sound(deriver, 0.0, [G4])
    assert row.reading is None
    assert deriver.reading(G4) is None


def test_the_note_that_sounds_can_be_asked_for_its_reed() -> None:
    """While it sounds, by any pitch of it and by the breath before it; then nothing."""
    deriver = NotesDeriver(make_harp("C", 2, 440.0))
    _sound(deriver, 0.0, [E4])
    for event in (point(0.6, hz=G4), note_on(0.6, 2)):
        deriver.add(event)
    now = deriver.reading(G4)
    assert now is not None
    assert (now.hole, now.air) == (3, "blow")
    assert deriver.reading(0.0) is None
    deriver.add(note_off(1.0, 2))
    assert deriver.reading(G4) is None


def bent(*way: tuple[float, float]) -> list[float]:
    """Hz of a way from draw 3: (seconds, cents) joined by lines, a pitch each 4 ms."""
    seconds, cents = zip(*way, strict=True)
    return [B4 * 2 ** (at / 1200) for at in np.interp(np.arange(0.0, seconds[-1], 0.004), seconds, cents)]


@pytest.mark.parametrize(
    ("way", "reed", "bend"),
    [
        # A scoop of 70 cents into a straight note.
        ([(0.0, -70.0), (0.1, -70.0), (0.15, 0.0), (0.6, 0.0)], "straight", 0.0),
        # Two semitones held, then let go.
        ([(0.0, -200.0), (0.4, -200.0), (0.55, 0.0), (0.7, 0.0)], "bend", -200.0),
        # The same, let go early.
        ([(0.0, -200.0), (0.15, -200.0), (0.3, 0.0), (0.7, 0.0)], "straight", 0.0),
        # Down, back and held for no longer than half of the time.
        ([(0.0, 0.0), (0.3, 0.0), (0.4, -300.0), (0.5, -300.0), (0.6, 0.0), (0.75, 0.0)], "straight", 0.0),
    ],
)
def test_a_note_is_told_where_it_was_held(way: list[tuple[float, float]], reed: str, bend: float) -> None:
    """A scoop, the release of a bend and a bend in passing do not decide."""
    (row,) = _sound(NotesDeriver(make_harp("C", 2, 440.0)), 0.0, bent(*way), way[-1][0])
    assert row.reading is not None
    assert (row.reading.hole, row.reading.air, row.reading.kind) == (3, "draw", reed)
    assert row.reading.bend_cents == pytest.approx(bend, abs=2.0)


@given(st.floats(0.0, 45.0), st.floats(4.0, 8.0), st.floats(0.5, 2.0))
def test_a_vibrato_is_where_its_middle_is(cents: float, hz: float, length_s: float) -> None:
    """Of a vibrato of any usual rate (4 to 8 Hz) and depth the middle counts, not the ends where it turns."""
    times = np.arange(0.0, length_s, 0.004)
    heard = G4 * np.exp2(cents * np.sin(2 * np.pi * hz * times) / 1200.0)
    assert 1200.0 * abs(np.log2(dwelt_hz(list(heard)) / G4)) < 0.3 * cents + 1e-6


@given(st.lists(st.floats(60.0, 4000.0), min_size=1, max_size=50))
def test_where_it_was_held_is_a_pitch_that_was_heard(heard: list[float]) -> None:
    """Whatever the order, one of the pitches comes back, and no semitone holds more of them than one around it."""
    middle = dwelt_hz(heard)
    assert middle in heard
    assert dwelt_hz(heard[::-1]) == middle
    semitone = 2.0 ** (1 / 12)
    most = max(sum(low <= hz <= low * semitone for hz in heard) for low in heard)
    assert (
        max(sum(low <= hz <= low * semitone for hz in heard) for low in heard if low <= middle <= low * semitone)
        == most
    )


@given(st.lists(st.tuples(st.floats(0.0, 3.0), st.sampled_from([E4, G4, B4, C5, AB4])), max_size=20))
def test_only_what_is_ambiguous_depends_on_the_notes_before(steps: list[tuple[float, float]]) -> None:
    """Each sure note is read as if it stood alone, and every G4 is draw 2 or blow 3, the other one told."""
    starts = np.cumsum([0.5 + rest for rest, _ in steps])
    rows = played(*zip(starts.tolist(), (hz for _, hz in steps), strict=True))
    for row, (_, hz) in zip(rows, steps, strict=True):
        (alone,) = played((0.0, hz))
        if hz == G4:
            assert {" ".join(tells(row)[1::-1]), tells(row)[4]} == {"draw 2", "blow 3"}
        else:
            assert tells(row) == tells(alone)
    for before, after in pairwise(rows):
        assert before.end_s <= after.start_s + 1e-9


def test_a_scoop_tells_which_reed_it_was() -> None:
    """After a blown note G4, begun a semitone low, is draw 2 for sure: blow 3 cannot be bent (common practice)."""
    deriver = NotesDeriver(make_harp("C", 2, 440.0))
    _sound(deriver, 0.0, [E4])
    for event in (point(0.6, hz=G4 * 2 ** (-100 / 1200)), note_on(0.6)):
        deriver.add(event)
    before = deriver.reading(G4)
    assert before is not None
    assert (before.hole, before.air, before.ambiguous) == (2, "draw", False)
    deriver = NotesDeriver(make_harp("C", 2, 440.0))
    _sound(deriver, 0.0, [E4])
    (row,) = _sound(deriver, 0.6, [G4 * 2 ** (-100 / 1200)] * 20 + [G4] * 80)
    assert tells(row) == ("2", "draw", "straight", "0.0", "")
    _sound(deriver, 1.2, [E4])
    (slip,) = _sound(deriver, 1.8, [G4 * 2 ** (-100 / 1200)] * 5 + [G4] * 95)
    assert tells(slip) == ("3", "blow", "straight", "0.0", "draw 2")
