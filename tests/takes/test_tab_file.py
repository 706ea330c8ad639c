"""``tab.txt``: how it begins, and where a line of it ends."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.harp.harp import Harp, make_harp
from bridge.harp.reeds import likely_reed
from bridge.harp.tab import CONVENTIONS, Convention
from bridge.takes.notes import PHRASE_REST_S, NoteRow
from bridge.takes.tab_file import tab_text

C_HARP = make_harp("C", 2, 440.0)


def row(start_s: float, semitones: float | None, harp: Harp = C_HARP) -> NoteRow:
    """A note of a quarter of a second, so many semitones above hole-1 blow; None: its pitch was never heard."""
    reading = None if semitones is None else likely_reed(harp, harp.hole1_hz * 2.0 ** (semitones / 12.0))
    return NoteRow(1, start_s, 0.25, 60, "1", 96, harp, reading)


def test_a_phrase_is_a_line() -> None:
    """Notes stand in one line until a rest of a second, which begins the next; the legend stands on top."""
    rows = [row(0.0, 14), row(0.3, 10), row(0.6, 11), row(0.85 + PHRASE_REST_S, 7), row(2.3, 22)]
    legend, *lines = tab_text(rows, "signs").splitlines()
    # Common practice, no source: minus is drawn, plus blown, an apostrophe a semitone of bend.
    assert legend.startswith("Tab: -3 is hole 3 drawn, +3 blown; ' a semitone of bend; ")
    assert lines == ["", "C harp, cross position:", "-4 -3' -3", "-2? +6o"]


def test_another_harp_has_a_heading_of_its_own() -> None:
    """A hole means nothing without the harp, so a change begins a new part."""
    a_harp = make_harp("A", 1, 440.0)
    _, *lines = tab_text([row(0.0, 14), row(0.3, 12, a_harp), row(0.6, 14, a_harp)], "letters").splitlines()
    assert lines == ["", "C harp, cross position:", "4D", "", "A harp, first position:", "4B 4D"]


def test_the_same_harp_at_another_a4_goes_on() -> None:
    """Its holes are the same, so a line goes on; a harp that nobody knows is called so."""
    sharp = make_harp("C", 2, 442.0)
    _, *lines = tab_text([row(0.0, 14), row(0.3, 12, sharp)], "signs").splitlines()
    assert lines == ["", "C harp, cross position:", "-4 +4"]
    unknown = NoteRow(1, 0.0, 0.25, 60, "1", 96, None, None)
    assert tab_text([unknown], "signs").splitlines()[1:] == ["", "harp unknown:", "?"]


def test_a_note_whose_reed_is_unknown_keeps_its_place() -> None:
    """It is a question mark of its own."""
    assert tab_text([row(0.0, 14), row(0.3, None), row(0.6, 12)], "arrows").splitlines()[-1] == "4↓ ? 4↑"


@pytest.mark.parametrize("convention", CONVENTIONS)
def test_a_take_without_notes_has_the_legend_alone(convention: Convention) -> None:
    """One line, and a line end."""
    text = tab_text([], convention)
    assert text.startswith("Tab: ")
    assert text.count("\n") == 1


@given(st.lists(st.tuples(st.floats(0.0, 3.0), st.integers(0, 36)), max_size=30), st.sampled_from(CONVENTIONS))
def test_every_note_is_one_word_and_every_long_rest_one_line(
    steps: list[tuple[float, int]], convention: Convention
) -> None:
    """As many words as notes, in as many lines as there are phrases."""
    start_s, rows = 0.0, []
    for rest_s, semitones in steps:
        start_s += rest_s
        rows.append(row(start_s, semitones))
        start_s = rows[-1].end_s
    phrases = tab_text(rows, convention).splitlines()[3:]
    assert sum(len(line.split()) for line in phrases) == len(rows)
    rests = sum(b.start_s - a.end_s >= PHRASE_REST_S for a, b in pairwise(rows))
    assert len(phrases) == (rests + 1 if rows else 0)
