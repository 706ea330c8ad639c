"""The rhythm of a score: what was played on a grid is read there again, in bars that begin where bar 1 does."""

from __future__ import annotations

from fractions import Fraction
from itertools import accumulate, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.harp.harp import make_harp
from bridge.takes.edited import Tempo
from takes.musicxml_schema import faults
from takes.score_reading import made, read, score_xml, tree

C_CROSS = make_harp("C", 2, 440.0)
EIGHTH, THIRD = Fraction(1, 2), Fraction(1, 3)
#: Rhythms of one beat, as lengths in quarters.
BEATS = (
    (Fraction(1),),
    (EIGHTH, EIGHTH),
    (2 * THIRD, THIRD),
    (THIRD, THIRD, THIRD),
    (Fraction(3, 4), Fraction(1, 4)),
    (Fraction(1, 4), Fraction(1, 4), EIGHTH),
)
#: How far a start may lie off its place, in seconds: at 130 quarters a minute 3/4 of a beat is 38 ms from 2/3.
OFF_S = 0.012


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.sampled_from(BEATS), min_size=1, max_size=16),
    st.floats(60.0, 130.0),
    st.floats(0.0, 10.0),
    st.integers(2, 6),
    st.integers(0, 2**32 - 1),
)
def test_what_is_played_on_a_grid_is_read_there(
    beats: list[tuple[Fraction, ...]], pace: float, bar_1_s: float, in_bar: int, seed: int
) -> None:
    """Eighths, sixteenths, triplets and swing, each begun a little off: every start and length is the one meant."""
    tempo = Tempo(pace, bar_1_s, in_bar)
    lengths = [length for beat in beats for length in beat]
    starts = [Fraction(0), *accumulate(lengths)][:-1]
    off_s = np.random.default_rng(seed).uniform(-OFF_S, OFF_S, len(starts))
    # Tongued apart by a tenth, as a player does.
    notes = [
        made(at + 1, bar_1_s + float(start) * tempo.quarter_s + float(off), 0.9 * float(length) * tempo.quarter_s, 67)
        for at, (start, length, off) in enumerate(zip(starts, lengths, off_s, strict=True))
    ]
    data = score_xml(notes, C_CROSS, tempo)
    assert faults(data) == []
    found = read(data)
    shift = Fraction(round(found[0].at * 48), 48)
    assert [(Fraction(round(head.at * 48), 48) - shift, Fraction(round(head.length * 48), 48)) for head in found] == [
        *zip(starts, lengths, strict=True)
    ]
    assert shift % in_bar == 0


def test_swing_is_written_as_triplets() -> None:
    """Two thirds and one third of a beat: a quarter and an eighth under a 3."""
    tempo = Tempo(96.0, 0.5)
    beats = (0.0, 0.66, 1.0, 1.68, 2.0)
    notes = [
        made(at + 1, 0.5 + beat * tempo.quarter_s, (after - beat) * tempo.quarter_s - 0.05, 67)
        for at, (beat, after) in enumerate(pairwise(beats))
    ]
    score = tree(score_xml(notes, C_CROSS, tempo))
    written = [(note.findtext("type"), note.findtext("time-modification/actual-notes")) for note in score.iter("note")]
    assert written[:4] == [("quarter", "3"), ("eighth", "3"), ("quarter", "3"), ("eighth", "3")]


@pytest.mark.parametrize("first", [4, 5, 6])
def test_a_late_triplet_that_stands_on_the_next_beat_is_divided_as_that_is(first: int) -> None:
    """Two triplets and a third that comes so late that the next beat has it: the shortest value of that beat."""
    triplets = [made(1, 0.0, 0.15, 67), made(2, 1.0 / 6.0, 0.15, 67), made(3, 0.46, 0.02, 67)]
    eighths = [made(at, 0.5 + 0.0625 * at, 0.04, 71) for at in range(first, 8)]
    found = read(score_xml([*triplets, *eighths, made(9, 1.0, 0.4, 67)], C_CROSS, Tempo(120.0, 0.0)))
    assert [(head.at, head.length) for head in found[2:-1]] == [
        (1.0, 0.125),
        *((1.0 + 0.125 * at, 0.125) for at in range(first, 8)),
    ]


def test_what_comes_before_bar_1_is_a_pick_up() -> None:
    """Its bar is complete, numbered 0 and does not count."""
    tempo = Tempo(120.0, 1.25)
    score = tree(score_xml([made(1, 1.0, 0.25, 67), made(2, 1.25, 1.0, 71)], C_CROSS, tempo))
    assert [(bar.get("number"), bar.get("implicit")) for bar in score.iter("measure")] == [("0", "yes"), ("1", None)]
    assert [head.at for head in read(score_xml([made(1, 1.0, 0.25, 67)], C_CROSS, tempo))] == [3.5]
    assert score.findtext(".//metronome/per-minute") == "120"


def test_a_pause_is_a_rest_and_a_tongue_stroke_is_none() -> None:
    """A rest from 0.15 s on that is at least a sixteenth; below it the note lasts until the next."""
    tempo = Tempo(120.0, 0.0)
    lengths = {gap: read(score_xml([made(1, 0.0, 1.0 - gap, 67), made(2, 1.0, 0.5, 67)], C_CROSS, tempo))[0].length
               for gap in (0.05, 0.14, 0.25, 0.5)}  # fmt: skip
    assert lengths == {0.05: 2.0, 0.14: 2.0, 0.25: 1.5, 0.5: 1.0}


def test_two_notes_at_one_place_of_the_grid_are_a_grace_note_and_a_note() -> None:
    """What is struck 20 ms before the next cannot be written apart."""
    first, second = read(score_xml([made(1, 1.0, 0.02, 66), made(2, 1.02, 0.48, 67)], C_CROSS, Tempo(120.0, 0.0)))
    assert (first.ps, first.grace, first.slid_into) == (66.0, True, False)
    assert (second.ps, second.at, second.length) == (67.0, 2.0, 1.0)


def test_notes_over_one_another_are_cut_where_the_next_begins() -> None:
    """A harp's tables tell one note at a time."""
    found = read(score_xml([made(1, 0.0, 5.0, 67), made(2, 0.5, 0.5, 71)], C_CROSS, Tempo(120.0, 0.0)))
    assert [(head.at, head.length) for head in found] == [(0.0, 1.0), (1.0, 1.0)]


@pytest.mark.parametrize("pace", [None, 96.0])
def test_a_score_without_notes_is_a_bar_of_rest(pace: float | None) -> None:
    """Valid, and music21 reads it."""
    data = score_xml([], C_CROSS, None if pace is None else Tempo(pace, 0.0))
    assert faults(data) == []
    assert read(data) == []
    assert len(list(tree(data).iter("measure"))) == 1


def test_without_a_tempo_it_is_clock_time_and_says_so() -> None:
    """A quarter is half a second, no time signature is shown, lines are dotted, and nothing is a triplet."""
    times = (0.3, 1.0, 1.4, 3.17)
    data = score_xml([made(at + 1, time_s, 0.2, 67) for at, time_s in enumerate(times)], C_CROSS, None)
    assert faults(data) == []
    score = tree(data)
    assert score.find("part/measure/attributes/time").get("print-object") == "no"
    assert score.findtext(".//words") == "no tempo known: quarter = 0.5 s, bar = 2 s"
    assert score.find(".//metronome") is None
    assert score.find(".//time-modification") is None
    assert {bar.text for bar in score.iter("bar-style")} == {"dotted"}
    assert [head.at / 2.0 for head in read(data)] == pytest.approx(times, abs=0.04)
