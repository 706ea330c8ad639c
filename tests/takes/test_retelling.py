"""Degree and reed of notes that were added or moved to another pitch."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import NoteOff, NoteOn, PitchPoint
from bridge.base.units import hz_above
from bridge.harp.harp import make_harp
from bridge.quantise.scales import find_scale
from bridge.quantise.settings import QuantiseSettings
from bridge.takes.edited import Breakpoint, EditedNote
from bridge.takes.holes import out_of_reach, without_reed
from bridge.takes.notes import NoteRow, NotesDeriver, as_edited
from bridge.takes.performed import Hearing, hearing, performed
from bridge.takes.retelling import HarpSince, told_again, untold
from bridge.takes.settled import settled
from takes.made_notes import any_notes, edited

C_HARP, A_HARP = make_harp("C", 2, 440.0), make_harp("A", 2, 440.0)
SETTINGS = QuantiseSettings().for_harp(400.0)


def hearings(*harps: HarpSince) -> list[Hearing]:
    """How bends are heard on harps that are known."""
    scale = find_scale("blues", {})
    return [hearing(one.since_s, one.harp.root_midi, scale, SETTINGS) for one in harps if one.harp is not None]


def test_what_is_wanted_is_told_and_the_rest_stays() -> None:
    """B4 on a C harp is the third, draw 3; what the other note says of itself is not touched (OEIS A291810)."""
    notes = [edited(1, 0.0, 0.5, 67, degree="b7"), edited(2, 0.5, 0.5, 71, degree="")]
    harps = [HarpSince(0.0, C_HARP)]
    one, other = told_again(notes, untold(notes), hearings(*harps), harps)
    assert one == notes[0]
    assert (other.degree, other.hole, other.air, other.reed, other.reed_bend_cents) == ("3", 3, "draw", "straight", 0.0)
    assert (other.start_s, other.length_s, other.velocity, other.points) == (0.5, 0.5, 96, notes[1].points)


def test_a_bent_note_is_a_bent_reed() -> None:
    """Hole 3 drawn and held two semitones down is A4: between the reeds G4 and B4 (common practice, no source)."""
    notes = [edited(1, 0.0, 1.0, 71, degree="", points=(Breakpoint(0.0, -200.0, 0.5),))]
    harps = [HarpSince(0.0, C_HARP)]
    (told,) = told_again(notes, {1}, hearings(*harps), harps)
    assert (told.degree, told.hole, told.air, told.reed) == ("2", 3, "draw", "bend")
    assert told.reed_bend_cents is not None
    assert round(told.reed_bend_cents) == -200


def test_each_note_is_told_on_its_harp() -> None:
    """E4 is the root over which an A harp is played cross, draw 2 or blow 3; on a C harp it is blow 2."""
    notes = [edited(1, 0.0, 1.0, 64, degree=""), edited(2, 1.0, 1.0, 64, degree="")]
    harps = [HarpSince(0.0, C_HARP), HarpSince(1.01, A_HARP)]
    on_c, on_a = told_again(notes, {1, 2}, hearings(*harps), harps)
    assert (on_c.degree, on_c.hole, on_c.air) == ("6", 2, "blow")
    assert (on_a.degree, on_a.hole, on_a.or_else) == ("1", 2, "blow 3")


def test_on_an_unknown_harp_nothing_is_told() -> None:
    """No reed, and the degree stays empty."""
    note = edited(1, 0.0, 1.0, 64, degree="")
    assert told_again([note], {1}, [], [HarpSince(0.0, None)]) == [replace(note)]


def rows_of_events(
    notes: list[EditedNote], heard: list[Hearing], wanted: set[int]
) -> list[tuple[NoteRow, dict[str, float]]]:
    """What the deriver of live takes makes of the notes on a C harp, frame by frame, and how long each degree lasts.

    Those that are wanted have the reed of the pitch where they settle.
    """
    deriver, found = NotesDeriver(C_HARP), []
    for note in notes:
        dwelt: dict[str, float] = {}
        degree, since_s = "", note.start_s
        for event in performed([note], heard, step_s=0.01):
            dwelt[degree] = dwelt.get(degree, 0.0) + event.time_s - since_s
            if not isinstance(event, NoteOff):
                value = event.inflection if isinstance(event, NoteOn) else event
                degree, since_s = value.degree, value.time_s
                cents = 100.0 * (note.midi_note - C_HARP.root_midi) + value.bend_cents
                deriver.add(PitchPoint(since_s, since_s, hz_above(C_HARP.root_hz, cents), cents, -20.0, 1.0))
            if isinstance(event, NoteOff) and note.id in wanted:
                cents = 100.0 * (note.midi_note - C_HARP.root_midi) + settled(note).bend_cents
                row = deriver.finish(event.time_s, hz_above(C_HARP.root_hz, cents))
            else:
                row = deriver.add(event)
            if row is not None:
                found.append((row, dwelt))
    return found


@given(any_notes(), st.sets(st.integers(1, 4)), st.sampled_from([0.0, 0.9, 1.1]))
def test_it_is_told_as_it_would_be_played(notes: list[EditedNote], wanted: set[int], rest_s: float) -> None:
    """As from the events one by one; notes that nobody asks for, in phrases before or after, change nothing."""
    spread = [replace(note, start_s=round(note.start_s + rest_s * note.id, 5)) for note in notes]
    harps = [HarpSince(0.0, C_HARP)]
    heard = hearings(*harps)
    told = told_again(spread, wanted, heard, harps)
    for note, again, (row, dwelt) in zip(spread, told, rows_of_events(spread, heard, wanted), strict=True):
        if note.id not in wanted:
            assert again is note
            continue
        # Two degrees that last equally long to a rounding are both right.
        assert dwelt[again.degree] >= max(dwelt.values()) - 1e-9
        by_event = replace(as_edited(row, note.points), start_s=note.start_s, length_s=note.length_s)
        if out_of_reach(by_event):
            # What was heard came from some hole of the harp; for what was written none is made up.
            by_event = without_reed(by_event)
        assert replace(again, degree="") == replace(by_event, degree="", velocity=note.velocity)
