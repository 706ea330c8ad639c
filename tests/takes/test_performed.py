"""Tables back to events: the quantiser's rules, every breakpoint met, every on with its off."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import Inflection, NoteOff, NoteOn
from bridge.quantise.scales import find_scale
from bridge.quantise.settings import QuantiseSettings
from bridge.takes.edited import Breakpoint, EditedNote
from bridge.takes.performed import Hearing, hearing, performed, sampled, stays
from takes.made_notes import any_notes, edited

#: G4 is the root of a C harp in cross position (common practice, no source).
ROOT_MIDI = 67


def hearings(since_s: float = 0.0, root_midi: int = ROOT_MIDI) -> Hearing:
    """The usual scale over G4."""
    settings = QuantiseSettings().for_harp(386.31)  # a just third, 5/4
    return hearing(since_s, root_midi, find_scale("blues", {}), settings)


def values(events: list[NoteOn | Inflection | NoteOff]) -> list[Inflection]:
    """The values of all notes, also those that they begin with."""
    return [
        event.inflection if isinstance(event, NoteOn) else event for event in events if not isinstance(event, NoteOff)
    ]


@given(any_notes(), st.floats(0.004, 0.3))
def test_every_note_begins_moves_and_ends_in_order(notes: list[EditedNote], step_s: float) -> None:
    """Times never go back, each note has one on and one off at its table's times, and its values lie on its curve."""
    events = list(performed(notes, [hearings()], step_s=step_s))
    times = [event.time_s for event in events]
    assert times == sorted(times)
    assert [event.note_id for event in events if isinstance(event, NoteOn)] == [note.id for note in notes]
    by_id = {note.id: note for note in notes}
    sounding: EditedNote | None = None
    for event in events:
        match event:
            case NoteOn():
                assert sounding is None
                sounding = by_id[event.note_id]
                assert event.time_s == sounding.start_s
                assert round(event.velocity * 127) == sounding.velocity
            case NoteOff():
                assert sounding is not None
                assert event.time_s == pytest.approx(sounding.end_s)
                sounding = None
    for value in values(events):
        note = by_id[value.note_id]
        wanted = note.at(value.time_s - note.start_s)
        assert value.bend_cents == pytest.approx(wanted.bend_cents, abs=0.01)
        assert value.breath == pytest.approx(wanted.breath, abs=0.001)


@given(any_notes(), st.floats(0.004, 0.3))
def test_no_breakpoint_is_passed_over_and_no_step_is_too_wide(notes: list[EditedNote], step_s: float) -> None:
    """Each corner inside a note is among its values; up to the last corner no two are further apart than asked for."""
    events = values(list(performed(notes, [], step_s=step_s)))
    for note in notes:
        at_s = [value.time_s - note.start_s for value in events if value.note_id == note.id]
        assert max((b - a for a, b in pairwise(at_s)), default=0.0) <= step_s + 1e-9
        for corner in note.points:
            if corner.at_s <= note.length_s:
                assert min(abs(corner.at_s - moment) for moment in at_s) < 1e-6


def test_blueness_and_lean_follow_from_the_bend() -> None:
    """A third over G that rises from minor to a just major: blue in the zone, leaning from -1 to +1, one degree."""
    rising = edited(1, 0.0, 1.0, 71, points=(Breakpoint(0.0, -100.0, 0.5), Breakpoint(1.0, -13.69, 0.5)))
    found = values(list(performed([rising], [hearings()])))
    assert {value.degree for value in found} == {"3"}
    # shared/design.md section 5: 0.5 at the minor, 1 in the zone (315 to 365), 0 at the straight third.
    assert found[0].blueness == pytest.approx(0.5)
    assert found[0].lean == -1.0
    zone = [value.blueness for value in found if 315.0 <= 400.0 + value.bend_cents <= 365.0]
    assert zone
    assert set(zone) == {1.0}
    assert found[-1].blueness == pytest.approx(0.0, abs=1e-6)
    assert found[-1].lean == pytest.approx(1.0)


def test_the_degree_follows_a_glide() -> None:
    """From the fourth down to the second over the third: the number stays, the degrees are told in turn."""
    glide = edited(1, 0.0, 1.0, 72, points=(Breakpoint(0.0, 0.0, 0.5), Breakpoint(1.0, -300.0, 0.5)))
    degrees = [value.degree for value in values(list(performed([glide], [hearings()])))]
    assert list(dict.fromkeys(degrees)) == ["4", "3", "2"]


def test_after_a_change_of_harp_the_other_root_counts() -> None:
    """B4 is the third over G, and the fourth over F sharp."""
    notes = [edited(1, 0.0, 1.0, 71), edited(2, 1.0, 1.0, 71)]
    both = [hearings(), hearings(1.02, 66)]
    assert [value.degree for value in values(list(performed(notes, both)))] == ["3", "4"]


def test_without_a_harp_the_table_has_the_say() -> None:
    """The degree is that of the table, and nothing is blue."""
    (value,) = values(list(performed([edited(1, 0.0, 1.0, 71, degree="b7")], [])))
    assert (value.degree, value.blueness, value.lean) == ("b7", 0.0, 0.0)


def test_a_step_of_nothing_is_refused() -> None:
    """It would go on without end."""
    with pytest.raises(ValueError, match="never ends"):
        list(performed([], [], step_s=0.0))


@given(any_notes(most_cents=700.0), st.floats(0.002, 0.05))
def test_degrees_are_told_value_by_value(notes: list[EditedNote], step_s: float) -> None:
    """A note keeps its place until it has arrived there, or the time for that is over, and a value lies outside."""
    heard = hearings()
    for note in notes:
        anchor = 100.0 * (note.midi_note - ROOT_MIDI)
        at_s, bends = sampled(note, heard, step_s)
        place, arrives_s, wanted = heard.scale.place(anchor), heard.arrival_s, []
        for moment, bend in zip(at_s.tolist(), bends.tolist(), strict=True):
            if place.keeps(anchor + bend):
                arrives_s = -1.0
            elif moment > arrives_s:
                place = heard.scale.place(anchor + bend)
            wanted.append(place)
        found = list(stays(heard, note, at_s, bends))
        assert [stay.place for stay in found for _ in range(stay.first, stay.last)] == wanted
        assert [stay.first for stay in found] == [0, *(stay.last for stay in found[:-1])]
        degrees = [value.degree for value in values(list(performed([note], [heard], step_s=step_s)))]
        assert degrees == [place.slot.degree for place in wanted]
