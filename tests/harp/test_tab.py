"""Tab in each convention, against words written by hand (common practice, no source)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.harp.bends import Air, Kind
from bridge.harp.harp import make_harp
from bridge.harp.layout import Layout
from bridge.harp.reeds import ReedReading, likely_reed
from bridge.harp.tab import CONVENTIONS, Convention, in_words, legend, tab

HARP = make_harp("C", "cross", 440.0)
AIRS: tuple[Air, Air] = ("draw", "blow")

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


#: Semitones above hole-1 blow of a C harp, and what a class reads.
SAID: dict[float, str] = {
    12: "blow 4",
    14: "draw 4",
    10.4: "draw 3, bent half a semitone",
    10: "draw 3, bent 1 semitone",
    9.6: "draw 3, bent 1½ semitones",
    8: "draw 3, bent 3 semitones",
    34: "blow 10, bent 2 semitones",
    22: "overblow 6",
    25: "overdraw 7",
    7: "draw 2 or blow 3",
}


@pytest.mark.parametrize(("semitones", "words"), SAID.items())
def test_each_note_is_said_as_a_player_would(semitones: float, words: str) -> None:
    """Air and hole, how deep it is bent, to the nearest quarter tone, and the other reed where there is one."""
    assert in_words(likely_reed(HARP, HARP.hole1_hz * 2.0 ** (semitones / 12.0))) == words


def test_the_other_reading_is_said_with_its_bend() -> None:
    """Where one reed bends to the note of another one, both ways are told in full."""
    mine = make_harp("C", 1, 440.0, Layout("mine", (0, 3), (6, 10)))
    assert in_words(likely_reed(mine, mine.hole1_hz * 2.0 ** (3 / 12))) == "blow 2 or draw 1, bent 3 semitones"


@pytest.mark.parametrize("convention", CONVENTIONS)
def test_the_legend_says_how_hole_3_is_written(convention: Convention) -> None:
    """Its examples are what tab writes for hole 3 drawn and blown; it stands in one line."""
    drawn, blown = (tab(ReedReading(3, air, 0.0, "straight"), convention) for air in AIRS)
    assert f"{drawn} is hole 3 drawn, {blown} blown" in legend(convention)
    assert "\n" not in legend(convention)
    for over in ("overblow", "overdraw"):
        assert over in legend(convention)


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
        ReedReading(hole, "blow" if air == "blow" else "draw", -100.0 * depth, kind)
        for hole, air, kind, depth in notes
        if kind == "bend" or depth == 1
    ]
    assert len({tab(reading, convention) for reading in read}) == len(read)
