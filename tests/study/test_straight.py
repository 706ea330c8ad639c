"""What counts as one straight reed, well held, and what does not."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.harp.harp import make_harp
from bridge.study.straight import Fault, beside, judge
from sounds.tuned import SEVEN_LIMIT
from study.straight_tones import tone

HARP = make_harp("C", 2, 440.0)
DRAW_2 = next(reed for reed in HARP.reeds if (reed.hole, reed.air) == (2, "draw"))
BLOW_3 = next(reed for reed in HARP.reeds if (reed.hole, reed.air) == (3, "blow"))


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        ({}, None),
        ({"reed": 0.1}, "voice"),
        ({"reed": 0.05, "bright": 0.0}, "pure"),
        ({"reed": 0.05, "bright": 0.0, "length_s": 0.3}, "voice"),
        ({"clean": 0.4}, "doubled"),
        ({"reeds": 2}, "doubled"),
        ({"length_s": 0.5}, "short"),
        ({"slide_cents": -15.0}, "sliding"),
        ({"spread_cents": 9.0}, "unsteady"),
    ],
)
def test_each_fault_of_a_note_has_its_name(changes: dict[str, Any], fault: Fault | None) -> None:
    """The right pitch alone is not enough."""
    assert judge(replace(tone("draw 3"), **changes), HARP).fault == fault


@given(st.sampled_from(sorted(SEVEN_LIMIT)), st.floats(-40.0, 40.0))
def test_a_note_near_a_reed_is_that_reed_or_its_twin(reed: str, cents: float) -> None:
    """Whatever the harp's A4 and temperament; draw 2 and blow 3 have one note, and draw 2 is meant unless asked for."""
    judged = judge(tone(reed, cents), HARP)
    assert judged.fault is None
    assert judged.off_cents == pytest.approx(cents, abs=1e-6)
    assert f"{judged.reed.air} {judged.reed.hole}" == ("draw 2" if reed == "blow 3" else reed)
    assert judge(tone("draw 2", cents), HARP, (BLOW_3,)).reed == BLOW_3


def test_a_bend_of_a_semitone_is_no_straight_note() -> None:
    """Draw 3 of a C harp bent to B flat."""
    assert judge(tone("draw 3", -100.0), HARP).fault == "other"


@pytest.mark.parametrize(
    ("cents", "level_db", "fault"),
    [
        (0.0, -25.0, None),
        (-12.0, -25.0, None),
        (-22.0, -25.0, None),
        (-30.0, -25.0, "low"),
        (-30.0, -13.0, None),
        (-45.0, -13.0, "low"),
        (14.0, -25.0, "high"),
        (14.0, -37.0, None),
    ],
)
def test_a_third_lies_where_some_temperament_and_breath_put_it(
    cents: float, level_db: float, fault: Fault | None
) -> None:
    """Equal and just thirds pass beside a root of -25 dBFS, also hard and flat; what is still lower is bent."""
    judged = judge(tone("draw 3", cents + 12.0, level_db), HARP)
    assert beside(judged, DRAW_2, 12.0, -25.0).fault == fault
