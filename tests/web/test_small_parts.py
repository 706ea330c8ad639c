"""Trail, steadiness, words and a page's allowance."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.quantise.third import ThirdZone
from bridge.web.client import Client
from bridge.web.steadiness import Steadiness
from bridge.web.trail import Trail, Way, thinned
from bridge.web.words import nearest_degree, pitch_words
from bridge.web.zones import zone_name, zones_of
from web.board_room import ZONE


@given(st.lists(st.floats(0.0, 100.0), max_size=200), st.integers(1, 30), st.integers(0, 250))
def test_a_trail_gives_what_came_since(times: list[float], most: int, since: int) -> None:
    """The points from a number on, as far as they are known, in order; its memory is bounded."""
    trail = Trail(most)
    for at_s in times:
        trail.add(at_s, 1.0)
    assert trail.end == len(times)
    given_now = [at_s for at_s, _ in trail.since(since, 10**6)]
    assert given_now == times[max(since, len(times) - most, 0) :]
    assert len(trail._points) < 2 * most


@given(st.lists(st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0)), max_size=100), st.integers(1, 20))
def test_thinning_keeps_order_and_the_last(points: list[tuple[float, float]], most: int) -> None:
    """Never more than asked for, and what is left stands in the same order."""
    kept = thinned(points, most)
    assert len(kept) <= most
    assert kept[-1:] == points[-1:]
    left = iter(points)
    assert all(point in left for point in kept)


@given(st.integers(0, 3000), st.integers(2, 50))
def test_a_way_reaches_from_its_beginning_to_its_end(count: int, most: int) -> None:
    """In no more room than it was given, evenly."""
    way = Way(most)
    for number in range(count):
        way.add(float(number), 0.0)
    times = [at_s for at_s, _ in way.points]
    assert len(times) <= most
    assert times[:1] == ([0.0] if count else [])
    assert len(set(np.diff(times))) <= 1
    assert count == 0 or times[-1] > count - 1 - 2 * max(1.0, 2.0 * count / most)


def _steadiness(cents: list[float]) -> Steadiness:
    steadiness = Steadiness()
    for step, value in enumerate(cents):
        steadiness.add(step / 375.0, value)
    return steadiness


def test_a_held_note_a_glide_and_a_shake_are_told_apart() -> None:
    """A straight way strays nowhere, however steep; +-30 cents at 10 Hz stray by 60, less the slips (computed)."""
    assert _steadiness([350.0] * 80).strays() == pytest.approx(0.0, abs=1e-6)
    assert _steadiness([300.0 + step for step in range(80)]).strays() == pytest.approx(0.0, abs=1e-6)
    shaking = [350.0 + 30.0 * math.sin(2.0 * math.pi * 10.0 * step / 375.0) for step in range(80)]
    assert 45.0 < _steadiness(shaking).strays() < 65.0
    assert _steadiness(shaking).median == pytest.approx(350.0, abs=12.0)


def test_too_little_says_nothing() -> None:
    """The first 100 ms of a note, and silence."""
    steadiness = _steadiness([350.0] * 20)
    assert steadiness.median is None
    assert steadiness.strays() == 0.0
    steadiness.clear()
    assert steadiness.median is None


@pytest.mark.parametrize(
    ("cents", "degree", "words"),
    [
        (354.0, "3", "third, 46 cents under straight, blue"),
        (354.0, "b3", "third, 46 cents under straight, blue"),
        (365.0, "3", "third, 35 cents under straight, blue"),
        (400.2, "3", "third, straight"),
        (401.0, "3", "third, straight, 1 cent over"),
        (394.0, "3", "third, straight, 6 cents under"),
        (385.0, "3", "third, 15 under, between blue and straight"),
        (312.0, "b3", "third, 88 under, between minor and blue"),
        (305.0, "b3", "third, 95 cents under straight, minor"),
        (300.0, "b3", "third, 100 cents under straight, minor"),
        (280.0, "b3", "third, 120 cents under straight, below minor"),
        (200.0, "b3", "third, 200 cents under straight, below minor"),
        (420.0, "3", "third, 20 cents above straight"),
        (708.0, "5", "fifth, 8 cents over"),
        (-12.0, "1", "root, 12 cents under"),
        (1149.0, "1", "root, 51 cents under"),
        (0.0, "1", "root"),
    ],
)
def test_the_pitch_in_words(cents: float, degree: str, words: str) -> None:
    """How far and to which side, never whether it is right."""
    assert pitch_words(cents, degree, ZONE) == words


@given(st.floats(296.0, 309.0), st.floats(1.0, 30.0), st.floats(386.0, 408.0), st.floats(240.0, 445.0))
def test_every_pitch_of_the_map_lies_in_one_zone(low: float, wide: float, straight: float, cents: float) -> None:
    """Zones meet without a gap, wherever the blue one lies, and the name is that of the zone the pitch lies in."""
    zone = ThirdZone(straight, 295.0, low + wide / 2.0, low, low + wide)
    zones = zones_of(zone)
    assert [one.high for one in zones[:-1]] == [one.low for one in zones[1:]]
    lying = [one.name for one in zones if one.low <= cents <= one.high]
    assert not lying or zone_name(cents, zone) in lying


@given(st.floats(-50.0, 1150.0))
def test_the_nearest_degree_is_within_a_quarter_tone(cents: float) -> None:
    """A semitone is 100 cents (equal temperament)."""
    degrees = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
    away = abs(cents - 100.0 * degrees.index(nearest_degree(cents)))
    assert min(away, 1200.0 - away) <= 50.0 + 1e-9


def test_a_page_may_answer_every_picture_and_no_flood() -> None:
    """Sixty messages a second for a minute are fine; of ten thousand in a second few hundred are taken."""
    client = Client("viewer", 0.0)
    assert all(client.may_send(step / 60.0) for step in range(3600))
    taken = sum(client.may_send(60.0 + step / 10_000.0) for step in range(10_000))
    assert 300 <= taken <= 500
