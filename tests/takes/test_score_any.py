"""Whatever the notes, the score is valid, its bars are complete and a reader plays what was meant.

The rules are those of MusicXML 4.0: the schema, and what it says of durations, ties, tuplets and accidentals.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.harp.harp import make_harp
from bridge.harp.keys import KEYS
from bridge.takes.edited import EditedNote, Tempo
from bridge.takes.score import ScoreStyle
from takes.musicxml_schema import faults
from takes.score_reading import QUARTERS, alter, line, made, score_xml, tree

ACCIDENTALS = {
    "three-quarters-flat": -1.5,
    "flat": -1.0,
    "quarter-flat": -0.5,
    "natural": 0.0,
    "quarter-sharp": 0.5,
    "sharp": 1.0,
}

harps = st.none() | st.builds(
    make_harp, st.sampled_from([key.name for key in KEYS]), st.integers(1, 12), st.floats(430.0, 450.0)
)
tempos = st.none() | st.builds(Tempo, st.floats(20.0, 400.0), st.floats(-5.0, 20.0), st.integers(1, 7))
bends = st.lists(st.floats(-400.0, 400.0), min_size=1, max_size=6)


@st.composite
def any_notes(draw: st.DrawFn) -> list[EditedNote]:
    """Up to twenty notes: crowded, apart or over one another, of any length, moving anyhow."""
    step_s = draw(st.sampled_from([0.01, 0.1, 0.5, 3.0]))
    notes = []
    for number in range(1, draw(st.integers(0, 20)) + 1):
        length_s = draw(st.floats(0.0, 3.0 * step_s))
        points = draw(bends)
        spread = [(length_s * at / len(points), cents) for at, cents in enumerate(points)]
        midi, degree = draw(st.integers(36, 108)), draw(st.sampled_from(["1", "b3", "3", "5", "b7"]))
        air = draw(st.sampled_from(["blow", "draw"]))
        hole = draw(st.none() | st.integers(1, 10))
        notes.append(made(number, draw(st.floats(0.0, 20.0 * step_s)), length_s, midi, *spread, degree=degree,
                          hole=hole, air=air))  # fmt: skip
    return notes


@settings(max_examples=150, deadline=None)
@given(any_notes(), harps, tempos)
def test_any_notes_give_a_valid_score_that_plays_them(notes: list[EditedNote], harp: Any, tempo: Tempo | None) -> None:  # noqa: ANN401
    """Valid against the schema; bars complete; as many attacks as notes; values, ties, slides and tuplets add up."""
    data = score_xml(notes, harp, tempo, ScoreStyle(also_blue=["5", "7"]), title="made \x00 up")
    assert faults(data) == []
    score = tree(data)
    quarters = tempo.quarters_in_bar if tempo is not None else 4
    divisions = int(score.findtext("part/measure/attributes/divisions"))
    for measure in score.iter("measure"):
        assert sum(int(note.findtext("duration", "0")) for note in measure.iter("note")) == quarters * divisions
        for note in measure.iter("note"):
            _value_is_its_duration(note, divisions)
        assert [int(sum(group)) for group in _tuplets(measure)] == [1] * len(list(_tuplets(measure)))
        _beams_close(measure)
    _reader_plays_what_is_meant(score)
    _ties_join_equals(score)
    attacks = [note for note in score.iter("note") if note.find("pitch") is not None and not _goes_on(note)]
    assert len(attacks) == len(notes)
    numbers = [note.findtext("notations/technical/other-technical").split()[1] for note in attacks]
    assert numbers == [f"note={note.id}" for note in sorted(notes, key=lambda note: note.start_s)]
    kinds = [slide.get("type") for slide in score.iter("slide")]
    assert kinds == ["start", "stop"] * (len(kinds) // 2)
    slurs = [slur.get("type") for slur in score.iter("slur")]
    assert slurs == ["start", "stop"] * (len(slurs) // 2)


def _goes_on(note: Any) -> bool:  # noqa: ANN401 -- lxml has no types
    """Whether it is tied or slid into, and so no attack of its own."""
    return bool(note.xpath("tie[@type='stop'] | notations/slide[@type='stop']"))


def _value_is_its_duration(note: Any, divisions: int) -> None:  # noqa: ANN401 -- as above
    """Type, dots and tuplet give the duration; grace notes have none, and rests of a bar no type."""
    if note.find("grace") is not None or note.find("rest[@measure='yes']") is not None:
        return
    written = QUARTERS[note.findtext("type")] * (2 - Fraction(1, 2 ** len(note.findall("dot"))))
    written *= Fraction(
        int(note.findtext("time-modification/normal-notes", "1")),
        int(note.findtext("time-modification/actual-notes", "1")),
    )
    assert written * divisions == int(note.findtext("duration"))


def _tuplets(measure: Any) -> Iterator[list[Fraction]]:  # noqa: ANN401 -- as above
    """The quarters of the notes of each bracket, from its start to its stop."""
    group: list[Fraction] | None = None
    for note in measure.iter("note"):
        kinds = [tuplet.get("type") for tuplet in note.iter("tuplet")]
        assert ("start" in kinds) == (group is None and note.find("time-modification") is not None)
        if "start" in kinds:
            group = []
        if group is not None and note.find("grace") is None:
            assert note.find("time-modification") is not None
            group.append(Fraction(int(note.findtext("duration")), 48))
        if "stop" in kinds:
            assert group is not None
            yield group
            group = None
    assert group is None


def _beams_close(measure: Any) -> None:  # noqa: ANN401 -- as above
    """What begins at a level goes on in the next note and ends."""
    open_levels: set[str] = set()
    for note in measure.iter("note"):
        if note.find("grace") is not None:
            assert not open_levels
        seen = set()
        for beam in note.iter("beam"):
            level = beam.get("number")
            assert (level in open_levels) == (beam.text in {"continue", "end"})
            if beam.text in {"begin", "continue"}:
                seen.add(level)
        open_levels = seen
    assert not open_levels


def _reader_plays_what_is_meant(score: Any) -> None:  # noqa: ANN401 -- as above
    """Key signature and accidentals of a bar, read as they are printed, give the alteration of every note."""
    fifths = 0
    for measure in score.iter("measure"):
        fifths = int(measure.findtext("attributes/key/fifths", str(fifths)))
        signed = dict.fromkeys("FCGDAEB"[:fifths], 1.0) if fifths > 0 else dict.fromkeys("BEADGCF"[:-fifths], -1.0)
        in_force: dict[tuple[str, str], float] = {}
        for note in measure.iter("note"):
            if note.find("pitch") is None or note.find("tie[@type='stop']") is not None:
                continue
            if (printed := note.findtext("accidental")) is not None:
                in_force[line(note)] = ACCIDENTALS[printed]
            assert in_force.get(line(note), signed.get(line(note)[0], 0.0)) == alter(note)


def _ties_join_equals(score: Any) -> None:  # noqa: ANN401 -- as above
    """A tie ends at the very next note, of the same pitch."""
    tied = None
    for note in score.iter("note"):
        if note.find("tie[@type='stop']") is not None:
            assert tied == (line(note), alter(note))
        else:
            assert tied is None
        tied = (line(note), alter(note)) if note.find("tie[@type='start']") is not None else None
    assert tied is None
