"""Which notes show the third straight, minor, blue and released; the models take the way that they are named for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bridge.quantise.third import ThirdZone
from bridge.study.alignment import MarkedNote
from bridge.study.four_ways import four_ways, shown_by
from bridge.study.glides import Glide
from bridge.study.marks import NoteMarks
from bridge.study.note_frames import NoteFrames

ZONE = ThirdZone(400.0, 300.0, 350.0, 315.0, 365.0)
NOTE = NoteMarks(0.0, 1.0, 400.0, 400.0, 0.0, None, 400.0, 400.0, 1.0, None, 1.0, False, -20.0)
NEAR = 10.0
_EMPTY = np.zeros(0)


def marked(marks: NoteMarks) -> MarkedNote:
    """A note of which only its marks matter."""
    return MarkedNote(NoteFrames(0.0, 1.0, _EMPTY, _EMPTY, _EMPTY, _EMPTY), marks)


def held(cents: float, length_s: float = 1.0) -> MarkedNote:
    """A note held at ``cents``."""
    return marked(replace(NOTE, begin_cents=cents, settle_cents=cents, length_s=length_s))


STRAIGHT, MINOR, BLUE = held(401.0), held(303.0), held(345.0)
RELEASED = marked(replace(NOTE, begin_cents=320.0, release=Glide(320.0, 398.0, 0.3, 0.5)))


def chosen(notes: list[MarkedNote]) -> dict[str, MarkedNote | None]:
    """The note for each way."""
    return {way.name: shown_by(way, notes, ZONE, NEAR) for way in four_ways(ZONE)}


def test_each_way_is_shown_by_its_own_note() -> None:
    """In whatever order they were played."""
    found = chosen([RELEASED, BLUE, MINOR, STRAIGHT])
    assert found == {"Straight": STRAIGHT, "Minor": MINOR, "Blue": BLUE, "Released": RELEASED}


def test_the_longer_and_nearer_note_is_taken() -> None:
    """A long one before a short one, of equally long ones the nearer."""
    long, near = held(404.0, 1.8), held(400.0, 1.0)
    assert chosen([held(400.0, 0.5), long])["Straight"] is long
    assert chosen([held(412.0), near])["Straight"] is near


@pytest.mark.parametrize(
    "note",
    [
        held(430.0),
        held(400.0, 0.1),
        marked(replace(NOTE, two_holes=True)),
        marked(replace(NOTE, begin_cents=340.0)),
        marked(replace(NOTE, begin_cents=330.0, release=Glide(370.0, 400.0, 0.3, 0.5))),
    ],
)
def test_what_shows_no_way_is_not_taken(note: MarkedNote) -> None:
    """Too high, too short, two holes, scooped, and let go from too high up."""
    assert set(chosen([note]).values()) == {None}


@pytest.mark.parametrize("zone", [ZONE, ThirdZone(386.0, 300.0, 350.0, 315.0, 365.0)])
def test_the_models_go_where_they_are_named_for(zone: ThirdZone) -> None:
    """Straight, minor and blue are held; the last begins at the low edge of the blue zone and ends straight."""
    straight, minor, blue, released = four_ways(zone)
    for way, cents in ((straight, zone.straight), (minor, zone.minor), (blue, zone.target)):
        assert {height for _, height in way.curve} == {cents}
    assert (released.curve[0][1], released.curve[-1][1]) == (315.0, zone.straight)
    assert f"{zone.straight - 300.0:.0f} cents under straight" in minor.sentence
