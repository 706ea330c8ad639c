"""The map on paper: zones from top to bottom, ways where the pitch was, marks of time, lines that two maps share."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from bridge.quantise.third import ThirdZone, blueness
from bridge.study.marks import NoteMarks, marks_of
from bridge.study.note_frames import NoteFrames
from bridge.web.third_map import HEIGHT, WIDTH, Played, Scale, third_map

ZONE = ThirdZone(400.0, 300.0, 350.0, 315.0, 365.0)


def played(low: float, high: float, *, octave: int = 0, doubled: bool = False, since_s: float = 0.0) -> Played:
    """A note held for half a second at each of two pitches; ``doubled`` in its second half."""
    time_s = np.arange(0.0, 1.0, 0.005)
    cents = np.where(time_s < 0.5, low, high) + 1200.0 * octave
    clean = np.where(time_s < 0.5, 1.0, 0.1 if doubled else 1.0)
    frames = NoteFrames(7.0, 8.0, 7.0 + time_s, cents, np.full(len(time_s), -20.0), clean)
    marks = marks_of(frames)
    assert marks is not None
    return Played(frames, marks, since_s)


def points(path: str) -> list[tuple[float, float]]:
    """The corners of an SVG path of straight lines."""
    numbers = [float(number) for number in re.findall(r"-?\d+\.\d", path)]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def test_zones_fill_the_picture_from_high_to_low() -> None:
    """Without a gap, each with its name and surface, the blue one between its edges."""
    scale = Scale([ZONE], [])
    zones = sorted(third_map(ZONE, scale).zones, key=lambda zone: zone.top)
    names = ["above straight", "straight", "between", "blue", "", "minor", "below minor"]
    assert [zone.name for zone in zones] == names
    assert zones[0].top == 0.0
    for above, below in pairwise(zones):
        assert above.top + above.height == pytest.approx(below.top)
    assert zones[-1].top + zones[-1].height == pytest.approx(HEIGHT)
    blue = zones[3]
    assert (blue.top, blue.top + blue.height) == pytest.approx((scale.y(365.0), scale.y(315.0)))
    assert blue.surface == "water"


def test_contours_lie_where_the_blueness_is_a_quarter_a_half_and_three_quarters() -> None:
    """As ``quantise.third`` has it; half below the zone is at the minor third."""
    scale = Scale([ZONE], [])
    cents = [scale.high - y * (scale.high - scale.low) / HEIGHT for y in third_map(ZONE, scale).contours]
    assert [blueness(place, ZONE) for place in cents] == pytest.approx([0.75, 0.5, 0.25] * 2, abs=1e-6)


@pytest.mark.parametrize("octave", [-1, 0, 2])
def test_a_way_goes_where_the_pitch_was(octave: int) -> None:
    """In any octave: low in its first half, high in its second, from the left edge on."""
    note = played(320.0, 395.0, octave=octave)
    scale = Scale([ZONE], [note])
    way = third_map(ZONE, scale, note).way
    assert way is not None
    corners = points(way.path)
    assert corners[0] == pytest.approx((scale.x(0.015), scale.y(320.0)), abs=3.0)
    assert corners[-1] == pytest.approx((scale.x(0.97), scale.y(395.0)), abs=3.0)
    assert all(0.0 <= x <= WIDTH and 0.0 <= y <= HEIGHT for x, y in corners)
    assert way.began[1] == pytest.approx(scale.y(320.0), abs=1.0)
    assert way.settled[1] == pytest.approx(scale.y(395.0), abs=1.0)
    assert way.doubled == ""


def test_two_holes_are_drawn_where_they_sound() -> None:
    """The second half alone."""
    note = played(320.0, 395.0, doubled=True)
    scale = Scale([ZONE], [note])
    way = third_map(ZONE, scale, note).way
    assert way is not None
    assert points(way.doubled)[0][0] == pytest.approx(scale.x(0.5), abs=4.0)


def test_a_note_that_begins_late_or_goes_far_makes_the_map_wider() -> None:
    """Both notes are inside, and so is the left edge's time 0; but not without limit."""
    late, deep = played(390.0, 400.0, since_s=0.2), played(160.0, 400.0)
    scale = Scale([ZONE], [late, deep])
    assert scale.x(0.0) > 0.0
    assert scale.x(late.end_s) < WIDTH
    assert scale.low == pytest.approx(120.0, abs=1.0)
    assert Scale([ZONE], [played(-40.0, 400.0)]).low == 100.0


def test_time_is_marked_by_beats_where_they_are_known() -> None:
    """Else by seconds."""
    scale = Scale([ZONE], [played(320.0, 395.0)])
    assert [mark.words for mark in scale.times(None)] == ["0 s", "0.5 s", "1 s"]
    assert [mark.words for mark in scale.times([-0.8, 0.0, 0.8, 1.6])] == ["beat", "beat"]


def test_a_model_lies_on_the_same_scale() -> None:
    """The same note as way and as model takes the same way."""
    note = played(320.0, 395.0)
    drawn = third_map(ZONE, Scale([ZONE], [note]), note, note)
    assert drawn.model == drawn.way


def test_a_note_without_pitch_is_no_way() -> None:
    """An empty map is drawn."""
    none = np.zeros(0)
    marks = replace(played(400.0, 400.0).marks, length_s=0.4)
    assert isinstance(marks, NoteMarks)
    note = Played(NoteFrames(0.0, 0.4, none, none, none, none), marks)
    assert third_map(ZONE, Scale([ZONE], [note]), note).way is None
