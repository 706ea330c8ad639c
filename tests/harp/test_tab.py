"""Tab in each convention, against words written by hand (common practice, no source)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.harp.bends import Kind
from bridge.harp.harp import make_harp
from bridge.harp.reeds import ReedReading, likely_reed
from bridge.harp.tab import CONVENTIONS, Convention, tab, tab_line

HARP = make_harp("C", "cross", 440.0)

#: Semitones above hole-1 blow of a C harp, and the word in each convention.
WORDS: dict[float, tuple[str, str, str]] = {
    12: ("+4", "4↑", "4B"),
    14: ("-4", "4↓", "4D"),
    13: ("-4'", "4↓'", "4D'"),
    10.4: ("-3'", "3↓'", "3D'"),
    9: ("-3''", "3↓''", "3D''"),
    8: ("-3'''", "3↓'''", "3D'''"),
    27: ("+8'", "8↑'", "8B'"),
    34: ("+10''", "10↑''", "10B''"),
    22: ("+6o", "6↑o", "6OB"),
    25: ("-7o", "7↓o", "7OD"),
    7: ("-2?", "2↓?", "2D?"),
}


@pytest.mark.parametrize(("semitones", "words"), WORDS.items())
def test_each_note_has_its_word(semitones: float, words: tuple[str, str, str]) -> None:
    """Blow, draw, bends of each depth, overbends and a note of two reeds are written as the convention says."""
    reading = likely_reed(HARP, HARP.hole1_hz * 2.0 ** (semitones / 12.0))
    assert tuple(tab(reading, convention) for convention in CONVENTIONS) == words


def test_a_phrase_is_one_line() -> None:
    """The notes stand one after another."""
    readings = [likely_reed(HARP, HARP.hole1_hz * 2.0 ** (semitones / 12.0)) for semitones in (14, 10, 11, 12)]
    assert tab_line(readings) == "-4 -3' -3 +4"
    assert tab_line(readings, "letters") == "4D 3D' 3D 4B"
    assert tab_line([]) == ""


_KINDS: tuple[Kind, ...] = ("straight", "bend", "overblow", "overdraw")


@given(
    convention=st.sampled_from(CONVENTIONS),
    notes=st.sets(
        st.tuples(
            st.integers(1, 10), st.sampled_from(("blow", "draw")), st.sampled_from(_KINDS[:2]), st.integers(1, 3)
        ),
        min_size=2,
        max_size=2,
    ),
)
def test_no_two_notes_have_the_same_word(convention: Convention, notes: set[tuple[int, str, Kind, int]]) -> None:
    """Hole, air and depth can be told from the word."""
    read = [
        ReedReading(hole, "blow" if air == "blow" else "draw", -100.0 * depth, kind, ambiguous=False)
        for hole, air, kind, depth in notes
        if kind == "bend" or depth == 1
    ]
    assert len({tab(reading, convention) for reading in read}) == len(read)
