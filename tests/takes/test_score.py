"""``score.musicxml`` as music21 reads it: the notes that were played, quarter tones and slides where they are due.

How blues is written for a melody instrument (a slide under one slur, scoops as grace notes, the tonic's key signature)
is common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import BinaryIO, cast

import music21
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.base.events import NoteOn
from bridge.harp.harp import Harp, make_harp
from bridge.takes.edited import EditedNote, Tempo
from bridge.takes.score import ScoreStyle, write_score
from bridge.takes.score_tab import moved_tab
from quantise.playing import RATE, frame, only, quantiser, run
from takes.musicxml_schema import faults
from takes.score_reading import Read, made, read, score_xml, tree

AT_120 = Tempo(120.0, 0.0)
C_CROSS = make_harp("C", 2, 440.0)
RELEASED = ((0.0, -100.0), (0.45, -100.0), (0.55, 0.0))


def heads(notes: list[EditedNote], harp: Harp | None = C_CROSS, tempo: Tempo | None = AT_120) -> list[Read]:
    """The heads of a score that the schema finds nothing wrong with."""
    data = score_xml(notes, harp, tempo)
    assert faults(data) == []
    return read(data)


@pytest.mark.parametrize(
    ("key", "position", "cents", "name"),
    [
        ("C", 2, -50.0, "B`"), ("C", 2, -27.0, "B`"), ("C", 2, -73.0, "B`"), ("C", 2, -23.0, "B"),
        ("C", 2, -77.0, "B-"), ("A", 2, -50.0, "G~"), ("A", 2, 0.0, "G#"), ("A", 2, -100.0, "G"),
        ("G", 2, -50.0, "F~"), ("F", 2, -40.0, "E`"), ("Bb", 2, -60.0, "A`"), ("C", 1, -50.0, "E`"),
        ("Db", 2, -50.0, "C`"), ("C", 3, -50.0, "F~"),
    ],
)  # fmt: skip
def test_a_third_near_the_quarter_tone_is_written_so(key: str, position: int, cents: float, name: str) -> None:
    """Nearer to 350 cents than to a semitone: a quarter tone on the letter of the third, half flat or half sharp."""
    harp = make_harp(key, position, 440.0)
    (head,) = heads([made(1, 0.0, 0.5, harp.root_midi + 4, (0.0, cents), degree="3")], harp)
    assert head.name == name
    assert head.ps == pytest.approx(harp.root_midi + 4 + round(cents / 50.0) / 2.0)


@given(st.integers(0, 11).filter(lambda degree: degree not in {3, 4}), st.floats(-100.0, 100.0))
@settings(max_examples=40, deadline=None)
def test_no_other_degree_has_quarter_tones(degree: int, cents: float) -> None:
    """Away from the third the nearest semitone is written, unless it leans into the third."""
    midi = C_CROSS.root_midi + degree
    (head,) = heads([made(1, 0.0, 0.5, midi, (0.0, cents))])
    within = (100.0 * degree + cents) % 1200.0
    if not 325.0 < within < 375.0:
        assert head.ps == int(head.ps)
        assert abs(head.ps - midi - cents / 100.0) <= 0.5


@pytest.mark.parametrize("root_off", [0.0, -20.0, 15.0])
def test_the_quarter_tone_counts_from_the_root_as_the_harp_has_it(root_off: float) -> None:
    """As the quantiser counts bends, draw 2 mistuned or not: 350 cents over it is one, 323 and 377 are semitones.

    Where the tab becomes a bend, 50 cents under the reed, is counted over the root too: draw 3 lies at 400 cents less
    what draw 2 is off (arithmetic, no source).
    """
    harp = make_harp("C", 2, 440.0, measured={(2, "draw"): root_off})
    names = []
    for above in (350.0, 323.0, 377.0):
        bend = bend_of(above, harp)
        (head,) = heads([made(1, 0.0, 0.5, 71, (0.0, bend), degree="3", hole=3)], harp)
        names.append(head.name)
    assert names == ["B`", "B-", "B"]
    third = made(1, 0.0, 0.5, 71, degree="3", hole=3)
    for down, word in ((-45.0, "-3"), (-50.0, "-3"), (-55.0, "-3'")):
        above = 400.0 - root_off + down
        assert moved_tab(third, "signs", 7100.0 + bend_of(above, harp), harp) == word


def test_a_reed_that_does_not_bend_is_not_told_as_bent() -> None:
    """Blow 6 is the lower reed of its hole: it may sag, but a tone below it is no bend of it (common practice)."""
    sixth = made(1, 0.0, 0.5, 79, degree="1", hole=6, air="blow")
    words = [moved_tab(sixth, "signs", 7900.0 + down, C_CROSS) for down in (0.0, -70.0, -200.0)]
    assert words == ["+6", "+6", "?"]


def bend_of(above: float, harp: Harp) -> float:
    """The bend from B4 that the quantiser tells of a sound so many cents above the root of ``harp``."""
    hz = harp.root_hz * 2.0 ** (above / 1200.0)
    player = quantiser(root_hz=harp.root_hz, root_midi=harp.root_midi)
    played = [replace(frame(step / RATE, 0.0, attack=step == 0), hz=hz) for step in range(RATE // 4)]
    (on,) = only(NoteOn, run(player, played))
    assert on.midi_note == 71
    return on.inflection.bend_cents


def test_a_third_that_is_let_go_is_two_heads_joined_by_a_slide() -> None:
    """Half a second at the minor third, then the major one: a quarter each, one slur, the tab of each."""
    data = score_xml([made(1, 0.0, 1.0, 71, *RELEASED, hole=3)], C_CROSS, AT_120)
    first, second = read(data)
    assert (first.ps, first.at, first.length, first.slid_into, first.lyric) == (70.0, 0.0, 1.0, False, "-3'")
    assert (second.ps, second.at, second.length, second.slid_into, second.lyric) == (71.0, 1.0, 1.0, True, "-3")
    assert [slur.get("type") for slur in tree(data).iter("slur")] == ["start", "stop"]


def test_a_scoop_without_room_for_a_value_is_a_grace_note_with_a_slide() -> None:
    """An eighth that is scooped into within 0.1 s keeps its place and length on the grid."""
    first, second = heads([made(1, 0.0, 0.25, 74, (0.0, -100.0), (0.08, -100.0), (0.12, 0.0), degree="5")])
    assert (first.ps, first.at, first.grace) == (73.0, 0.0, True)
    assert (second.ps, second.at, second.length, second.slid_into) == (74.0, 0.0, 0.5, True)


def test_a_note_that_falls_off_ends_in_a_grace_note() -> None:
    """The fall stands after the note and takes no time from it, nor from the next."""
    fall = made(1, 0.0, 0.5, 71, (0.0, 0.0), (0.38, 0.0), (0.43, -200.0), degree="3", hole=3)
    one, two, three = heads([fall, made(2, 0.5, 0.5, 67)])
    assert (one.ps, one.length, two.ps, two.grace, two.slid_into) == (71.0, 1.0, 69.0, True, True)
    assert (three.ps, three.at) == (67.0, 1.0)


def test_a_double_fall_onto_a_bar_line_stays_in_its_bar() -> None:
    """Both grace notes stand where they are played, after the note and before the line, in their order."""
    down_and_up = (0.0, 0.0), (0.85, 0.0), (0.88, -200.0), (0.92, -200.0), (0.95, 0.0)
    notes = [made(1, 0.0, 1.0, 71, *down_and_up, degree="3", hole=3), made(2, 1.0, 1.0, 67)]
    first, second = tree(score_xml(notes, C_CROSS, Tempo(60.0, 0.0, 1))).iter("measure")
    steps = [[note.findtext("pitch/step") for note in bar.iter("note")] for bar in (first, second)]
    assert steps == [["B", "A", "B"], ["G"]]
    slides = [(slide.get("type"), slide.get("number")) for slide in first.iter("slide")]
    assert slides == [("start", "2"), ("stop", "2"), ("start", "1"), ("stop", "1")]


@pytest.mark.parametrize(("depth", "pace"), [(20.0, 4.0), (50.0, 6.0), (60.0, 8.0), (80.0, 5.0)])
def test_vibrato_is_no_slide(depth: float, pace: float) -> None:
    """Of 4 to 8 swings a second: one head, where its middle is."""
    swing = [(0.01 * step, depth * math.sin(2.0 * math.pi * pace * 0.01 * step)) for step in range(100)]
    (head,) = heads([made(1, 0.0, 1.0, 67, *swing)])
    assert (head.ps, head.length) == (67.0, 2.0)


def test_a_deep_bend_and_back_has_its_three_pitches() -> None:
    """Draw 3 bent three semitones and let go in one breath, a quarter each."""
    bend = ((0.0, 0.0), (0.45, 0.0), (0.55, -300.0), (0.95, -300.0), (1.05, 0.0))
    found = heads([made(1, 0.0, 1.5, 71, *bend, degree="3", hole=3)])
    assert [(head.ps, head.at, head.length, head.lyric) for head in found] == [
        (71.0, 0.0, 1.0, "-3"),
        (68.0, 1.0, 1.0, "-3'''"),
        (71.0, 2.0, 1.0, "-3"),
    ]


def test_what_moves_less_than_is_asked_for_has_no_slide() -> None:
    """``slide_cents`` is the least that counts."""
    note = made(1, 0.0, 1.0, 71, (0.0, -100.0), (0.45, -100.0), (0.55, 0.0))
    assert len(read(score_xml([note], C_CROSS, AT_120, ScoreStyle(90.0)))) == 2
    assert len(read(score_xml([note], C_CROSS, AT_120, ScoreStyle(110.0)))) == 1


@pytest.mark.parametrize(
    ("key", "position", "tonic"),
    [("C", 2, "G"), ("C", 1, "C"), ("C", 3, "d"), ("A", 2, "E"), ("Bb", 2, "F"), ("Db", 2, "A-"), ("B", 2, "F#"),
     ("C", 12, "F"), ("C", 4, "a"), ("C", 5, "e"), ("B", 3, "c#"), ("F#", 3, "g#"), ("Db", 3, "e-")],
)  # fmt: skip
def test_the_key_signature_is_that_of_the_root(key: str, position: int, tonic: str) -> None:
    """Major, or minor where the straight harp has the minor third; sharps and flats as music21 knows the key."""
    data = score_xml([made(1, 0.0, 0.5, 67)], make_harp(key, position, 440.0), AT_120)
    known = music21.key.Key(tonic)
    assert int(tree(data).findtext("part/measure/attributes/key/fifths")) == known.sharps
    assert tree(data).findtext("part/measure/attributes/key/mode") == known.mode


def test_another_harp_changes_key_spelling_and_tab() -> None:
    """From the bar of its first note on; its name stands above."""
    notes = [made(1, 0.0, 0.5, 71, degree="3", hole=3), made(2, 2.0, 0.5, 68, degree="3", hole=3)]
    data = score_xml(notes, C_CROSS, AT_120, changes=[(1.5, make_harp("A", 2, 440.0))])
    assert [head.name for head in read(data)] == ["B", "G#"]
    assert [key.findtext("fifths") for key in tree(data).iter("key")] == ["1", "4"]
    first, second = tree(data).iter("measure")
    assert [words.text for words in first.iter("words")] == ["C harp, cross position"]
    assert [words.text for words in second.iter("words")] == ["A harp, cross position"]


def test_without_a_harp_degrees_tell_the_root_and_there_is_no_key() -> None:
    """Thirds are still thirds; a note without a hole has a question mark for its tab."""
    notes = [made(1, 0.0, 0.5, 68, (0.0, -50.0), degree="3", hole=None, air=""), made(2, 0.5, 0.5, 64)]
    data = score_xml(notes, None, AT_120)
    assert [(head.name, head.lyric) for head in read(data)] == [("G~", "?"), ("E", "-2")]
    assert tree(data).findtext("part/measure/attributes/key/fifths") == "0"


def test_a_machine_finds_hole_and_bend() -> None:
    """In ``other-technical``, since MusicXML 4.0 has no element for a harmonica's hole."""
    note = made(7, 0.0, 0.5, 71, (0.0, -52.0), degree="3", hole=3, reed="bend", reed_bend=-52.0)
    words = tree(score_xml([note], C_CROSS, AT_120)).findtext(".//other-technical")
    assert words == "reedwire note=7 hole=3 air=draw reed=bend midi=71 bend=-52.0"


def test_the_score_names_nobody_and_is_the_same_each_time() -> None:
    """No date, no person; the part is the instrument, the software is ours."""
    notes = [made(1, 0.0, 0.5, 67)]
    data = score_xml(notes, C_CROSS, None, title="two & <three>")
    assert data == score_xml(list(notes), C_CROSS, None, title="two & <three>")
    assert tree(data).findtext("work/work-title") == "two & <three>"
    assert tree(data).findtext("part-list/score-part/part-name") == "Harmonica"
    assert tree(data).findtext("identification/encoding/software").startswith("reedwire ")
    assert tree(data).find(".//creator") is None


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_a_full_disk_is_told() -> None:
    """The error of the file itself comes out, with its reason; Linux's /dev/full has no space left, ever."""
    with pytest.raises(OSError, match="No space left"), Path("/dev/full").open("wb", buffering=0) as out:
        write_score(cast("BinaryIO", out), [made(1, 0.0, 0.5, 67)], C_CROSS, AT_120)


@pytest.mark.parametrize(("midi", "octave"), [(48, "-1"), (67, None), (96, "1")])
def test_the_clef_keeps_the_notes_near_the_staff(midi: int, octave: str | None) -> None:
    """A treble clef, an octave lower for low harps and higher for the highest notes; pitches stay as they sound."""
    data = score_xml([made(1, 0.0, 0.5, midi)], C_CROSS, AT_120)
    assert tree(data).findtext("part/measure/attributes/clef/clef-octave-change") == octave
    assert read(data)[0].ps == midi
