"""The line that tells of a note: what was sent, where it was held or how it moved, how blue it was."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchPoint
from bridge.harp.harp import Harp, make_harp
from bridge.harp.tab import CONVENTIONS, Convention
from bridge.quantise.third import ThirdZone, blueness, lean
from bridge.takes.finished import Finished, blue_words, finish_note
from bridge.takes.notes import NotesDeriver

#: A blue third as it is set when nothing else is said.
ZONE = ThirdZone(400.0, 300.0, 350.0, 315.0, 365.0)


def _played(seconds: list[float], bends: list[float], *, third: bool = True) -> Finished:
    """A note on B4, the third of G, that goes straight from bend to bend, told 250 times a second."""
    times = np.arange(0.0, seconds[-1], 0.004)
    moves = [
        _at(1.0 + time, bend, third=third) for time, bend in zip(times, np.interp(times, seconds, bends), strict=True)
    ]
    return _finished(NoteOn(1, 1.0, 1.0, 71, 0.7, moves[0]), moves[1:], NoteOff(1, 1.0 + seconds[-1], 2.0))


def _finished(
    on: NoteOn,
    moves: list[Inflection],
    off: NoteOff,
    harp: Harp | None = None,
    hz: float = 493.88,
    convention: Convention = "signs",
) -> Finished:
    """The note as it is told, at ``hz`` on ``harp``."""
    notes = NotesDeriver(harp)
    events: list[Event] = [PitchPoint(1.0, 1.0, hz, 400.0, -20.0, 1.0), on, *moves]
    for event in events:
        notes.add(event)
    row = notes.add(off)
    assert row is not None
    return finish_note(row, [on.inflection, *moves], convention)


def _at(time_s: float, bend: float, *, third: bool) -> Inflection:
    cents = 400.0 + float(bend)
    blue, side = (blueness(cents, ZONE), lean(cents, ZONE)) if third else (0.0, 0.0)
    return Inflection(1, time_s, time_s, float(bend), "3", blue, side, 0.5, 0.5)


@pytest.mark.parametrize(
    ("seconds", "bends", "said"),
    [
        ([0.0, 0.75], [-50.0, -50.0], "B4   degree 3, 0.75 s, held at -50 cents, fully blue"),
        ([0.0, 0.75], [0.3, -0.3], "held at 0 cents, not blue"),
        ([0.0, 0.75], [-80.0, -80.0], "B4   degree 3, 0.75 s, held at -80 cents, fully blue"),
        ([0.0, 0.75], [-100.0, -100.0], "heard as Bb4, degree 3, 0.75 s, held at -100 cents, half blue (minor side)"),
        ([0.0, 0.75], [-17.0, -17.0], "held at -17 cents, half blue (near straight)"),
        ([0.0, 0.2, 1.0], [-43.0, 115.0, 115.0], "B4   heard as C5, degree 3, 1.00 s, +11 rising to +115 cents"),
        ([0.0, 0.4, 0.6, 1.0], [-90.0, -90.0, 0.0, 0.0], "-90 rising to 0 cents, fully blue for 0.13 s"),
        ([0.0, 0.4, 0.6, 1.0], [0.0, 0.0, -20.0, -26.0], "0 falling to -26 cents, at most mostly blue"),
        ([0.0, 0.3, 0.5, 0.7, 0.9, 1.2], [0.0, 0.0, -90.0, -90.0, 0.0, 0.0], "0 falling to -90 rising to 0 cents"),
    ],
)
def test_a_note_is_told_as_it_was_played(seconds: list[float], bends: list[float], said: str) -> None:
    """A held note is held at one place, with its side; one that moves has begin, turns and end, and its blue time."""
    sentence = _played(seconds, bends).sentence()
    assert sentence.startswith("    1.000 s  B4   ")
    assert f"degree 3, {seconds[-1]:.2f} s, " in sentence
    assert said in sentence
    assert "+0 " not in sentence
    assert len(sentence) <= 100


def test_a_vibrato_is_no_list_of_turns() -> None:
    """Fifty cents at 6 Hz (rates of 4 to 8 Hz, common practice) are a swinging between two places."""
    times = np.arange(0.0, 1.5, 0.01)
    finished = _played(list(times), list(25.0 * np.sin(2 * np.pi * 6.0 * times)), third=False)
    assert "swinging from -2" in finished.sentence()
    assert min(finished.places) == pytest.approx(-25.0, abs=3.0)
    assert max(finished.places) == pytest.approx(25.0, abs=3.0)


def test_the_attack_and_the_letting_go_are_no_movement() -> None:
    """A reed that speaks 60 cents flat for 50 ms and sags in its last 15 ms was held where it stood."""
    finished = _played([0.0, 0.05, 0.055, 0.485, 0.486, 0.5], [-60.0, -60.0, -2.0, -2.0, -70.0, -70.0])
    assert "held at -2 cents, not blue" in finished.sentence()


def test_the_shortest_note_has_its_line() -> None:
    """A note of which only the beginning is known was held where it began."""
    on = NoteOn(1, 1.0, 1.0, 71, 0.7, _at(1.0, -25.0, third=True))
    assert (
        _finished(on, [], NoteOff(1, 1.0, 1.0)).words()
        == "B4 degree 3, 0.00 s, held at -25 cents, mostly blue (near straight)"
    )


def test_what_glides_on_is_named_by_what_was_sent() -> None:
    """Begun as B4 and held a semitone above it at the fourth: B4 was sent, so B4 is named, with the cents from it."""
    moves = [Inflection(1, 1.0 + 0.01 * n, 1.0, 100.0, "4", 0.0, 0.0, 0.5, 0.5) for n in range(1, 50)]
    on = NoteOn(1, 1.0, 1.0, 71, 0.7, Inflection(1, 1.0, 1.0, 0.0, "3", 0.0, 0.0, 0.5, 0.5))
    words = _finished(on, moves, NoteOff(1, 1.5, 1.5)).words()
    assert words == "B4 heard as C5, degree 4, 0.50 s, held at +100 cents, not blue"


@pytest.mark.parametrize(
    ("hz", "words"),
    [
        (493.88, ("-3", "3↓", "3D")),  # Draw 3 of a C harp; OEIS A291810.
        (440.0, ("-3''", "3↓''", "3D''")),
        (392.0, ("-2?", "2↓?", "2D?")),
    ],
)
def test_the_hole_stands_behind_the_note_in_the_tab_that_was_chosen(hz: float, words: tuple[str, ...]) -> None:
    """In a column of its own in the list, and without one for a narrow place."""
    on = NoteOn(1, 1.0, 1.0, 71, 0.7, _at(1.0, 0.0, third=True))
    for convention, word in zip(CONVENTIONS, words, strict=True):
        told = _finished(on, [], NoteOff(1, 1.5, 1.5), make_harp("C", 2, 440.0), hz, convention)
        assert told.sentence().startswith(f"    1.000 s  B4   {word:<6} degree 3, ")
        assert told.words().startswith(f"B4 {word} degree 3, ")


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_more_blue_never_reads_as_less(one: float, other: float) -> None:
    """The words for blueness rise with it."""
    words = ("not blue", "a little blue", "half blue", "mostly blue", "fully blue")
    low, high = sorted((one, other))
    assert words.index(blue_words(low)) <= words.index(blue_words(high))
