"""A4, temperament and reeds out of straight notes.

The offsets of just tunings are those of O. Hansson, Theory of harmonica tuning (2004-06), table 8B, in whole cents.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.harp.harp import Harp, Reed, make_harp
from bridge.harp.harp_file import harp_from_file, plain_harp_file, read_harp_file
from bridge.harp.layout import RICHTER
from bridge.study.tuning import Hearing, fit_tuning, harp_file_of
from sounds.tuned import SEVEN_LIMIT

HARP = make_harp("C", 2, 440.0)
EQUAL = dict.fromkeys(SEVEN_LIMIT, 0.0)


def reed(name: str, harp: Harp = HARP) -> Reed:
    """The reed of that name."""
    return next(reed for reed in harp.reeds if f"{reed.air} {reed.hole}" == name)


def hearings(
    offsets: Mapping[str, float],
    names: str = "draw 2,draw 3,draw 4",
    *,
    a4_hz: float = 443.0,
    fall: float = 8.0,
    levels_db: tuple[float, ...] = (-36.0, -24.0),
    harp: Harp = HARP,
) -> list[Hearing]:
    """Each reed once at each level, falling evenly by ``fall`` cents from the first to the last."""
    sharp = 1200.0 * math.log2(a4_hz / 440.0)
    middle = (levels_db[0] + levels_db[-1]) / 2.0
    span = (levels_db[-1] - levels_db[0]) or 1.0
    return [
        Hearing(reed(name, harp), sharp + offsets[name] - fall * (level - middle) / span, 0.5, level)
        for name in names.split(",")
        for level in levels_db
    ]


@given(st.floats(436.0, 447.0), st.floats(0.0, 15.0), st.booleans())
def test_a4_and_reeds_come_back(a4_hz: float, fall: float, just: bool) -> None:
    """Equal or just, at any A4, falling by any amount: to the rounding of the table and of the file."""
    offsets = dict(SEVEN_LIMIT) if just else EQUAL
    tuning = fit_tuning(hearings(offsets, a4_hz=a4_hz, fall=fall), HARP)
    assert tuning.a4_hz == pytest.approx(a4_hz, abs=0.1)
    assert (tuning.temperament == "equal") is not just
    for found, heard in tuning.reeds:
        assert heard.offset_cents == pytest.approx(offsets[f"{found.air} {found.hole}"], abs=0.5)
        assert heard.spread_cents == pytest.approx(0.5, abs=0.1)
    assert tuning.breath is not None
    assert tuning.breath.fall_cents == pytest.approx(fall, abs=0.1)
    assert (tuning.breath.soft_db, tuning.breath.hard_db) == (-36.0, -24.0)


def test_a_reed_heard_only_softly_is_brought_to_the_middle() -> None:
    """Draw 5, once and softly, lies as far above its pitch as the other reeds do."""
    every = [
        *hearings(SEVEN_LIMIT),
        *(one for one in hearings(SEVEN_LIMIT, "draw 5") if one.level_db == -36.0),
    ]
    offsets = {found.hole: heard.offset_cents for found, heard in fit_tuning(every, HARP).reeds}
    assert offsets[5] == pytest.approx(-29.0, abs=0.6)


def test_soft_and_hard_at_one_level_tell_nothing_of_breath() -> None:
    """As through a microphone that evens levels out."""
    assert fit_tuning(hearings(EQUAL, levels_db=(-25.0, -25.0, -24.0)), HARP).breath is None


def test_the_temperament_that_is_set_stays_where_the_reeds_do_not_speak_clearly_against_it() -> None:
    """Of the just ones root, third and fifth tell nothing apart; draw 5 does; a few cents of scatter change nothing."""
    set_to_5 = make_harp("C", 2, 440.0, temperament="just-5-limit")
    alike = fit_tuning(hearings(SEVEN_LIMIT, harp=set_to_5), set_to_5)
    assert alike.temperament == "just-5-limit"
    assert set(alike.alike) == {"just-5-limit", "just-7-limit", "just-19-limit"}
    told = fit_tuning(hearings(SEVEN_LIMIT, "draw 2,draw 3,draw 4,draw 5", harp=set_to_5), set_to_5)
    assert (told.temperament, told.alike) == ("just-7-limit", ("just-7-limit",))
    scattered = {"draw 2": 1.5, "draw 3": -2.0, "draw 4": 1.0}
    assert fit_tuning(hearings(scattered), HARP).temperament == "equal"
    assert fit_tuning(hearings(scattered), HARP).a4_hz == pytest.approx(443.0, abs=0.1)


@given(st.lists(st.floats(-20.0, 20.0), min_size=3, max_size=3))
def test_a4_and_offsets_together_are_what_was_heard(cents: list[float]) -> None:
    """However a harp is tuned, and whichever temperament is taken for it."""
    offsets = dict(zip(("draw 2", "draw 3", "draw 4"), cents, strict=True))
    tuning = fit_tuning(hearings(offsets), HARP)
    file = harp_file_of(tuning, HARP, "2026-11-25")
    harp = harp_from_file(read_harp_file(plain_harp_file(file)), 2, RICHTER)
    for name, offset in offsets.items():
        played_hz = reed(name).hz * 443.0 / 440.0 * 2.0 ** (offset / 1200.0)
        assert 1200.0 * np.log2(reed(name, harp).hz / played_hz) == pytest.approx(0.0, abs=0.15)
    assert harp.straight_third_cents() == pytest.approx(400.0 + cents[1] - cents[0], abs=0.15)
