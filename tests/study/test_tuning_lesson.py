"""The way through tuning a harp, note by note."""

from __future__ import annotations

import pytest

from bridge.base.errors import UserError
from bridge.harp.harp import make_harp
from bridge.study.tuning_lesson import Lesson, telling_reed, wanted_reeds
from sounds.tuned import SEVEN_LIMIT
from study.straight_tones import tone

SOFT_DB, HARD_DB = -36.0, -22.0
CROSS = ("draw 2", "draw 3", "draw 4")


def lesson(position: int = 2) -> Lesson:
    """A lesson on a C harp."""
    return Lesson(make_harp("C", position, 440.0))


def done(*reeds: str, key: str = "C") -> Lesson:
    """A lesson on a C harp after these reeds of a harp in ``key``, softly and hard."""
    one = lesson()
    for reed in reeds:
        one.hear(tone(reed, SEVEN_LIMIT[reed], SOFT_DB, key))
        one.hear(tone(reed, SEVEN_LIMIT[reed] - 8.0, HARD_DB, key))
    return one


def asked(one: Lesson) -> str:
    """What is asked for now."""
    step = one.step
    return "" if step is None else f"{step.number}/{step.of} {step.reed.air} {step.reed.hole} {step.how}"


def test_it_asks_for_root_third_and_fifth_softly_and_hard() -> None:
    """In order, counting, until all six were heard."""
    one, steps = lesson(), []
    for reed in CROSS:
        for level_db in (SOFT_DB, HARD_DB):
            steps.append(asked(one))
            one.hear(tone(reed, SEVEN_LIMIT[reed], level_db))
    assert steps == [
        *("1/6 draw 2 softly", "2/6 draw 2 hard", "3/6 draw 3 softly", "4/6 draw 3 hard"),
        *("5/6 draw 4 softly", "6/6 draw 4 hard"),
    ]
    assert one.step is None


@pytest.mark.parametrize(
    ("position", "reeds"),
    [
        (1, ["blow 1", "blow 2", "blow 3"]),
        (2, ["draw 2", "draw 3", "draw 4"]),
        (3, ["draw 1", "draw 5", "draw 6"]),
        (4, ["draw 6", "blow 7", "blow 8"]),
        (5, ["blow 2", "blow 3", "draw 3"]),
        (12, ["draw 5", "draw 6", "blow 7"]),
    ],
)
def test_each_position_has_its_own_reeds(position: int, reeds: list[str]) -> None:
    """Root, third (the minor one where no reed gives the major) and fifth, by the layout (OEIS A291810)."""
    assert [f"{reed.air} {reed.hole}" for reed in wanted_reeds(make_harp("C", position, 440.0))] == reeds


def test_a_position_without_a_straight_root_is_refused() -> None:
    """Seventh position of a C harp begins on F sharp."""
    with pytest.raises(UserError, match="seventh position no straight reed gives the root"):
        lesson(7)


def test_notes_count_in_any_order() -> None:
    """As in a recording that nobody guided."""
    one = lesson()
    for level_db in (HARD_DB, SOFT_DB):
        for reed in reversed(CROSS):
            assert one.hear(tone(reed, SEVEN_LIMIT[reed], level_db)).fault is None
    assert one.step is None


def test_hard_must_be_louder_than_soft_but_not_for_ever() -> None:
    """The same level twice asks again; the third time the microphone is taken as it is."""
    one = lesson()
    for expected in ("2/6 draw 2 hard", "2/6 draw 2 hard", "3/6 draw 3 softly"):
        one.hear(tone("draw 2", 0.0, SOFT_DB))
        assert asked(one) == expected


def test_a_bent_note_does_not_count_beside_what_was_heard_before() -> None:
    """A third bent by 40 cents beside the root, and a hard note 25 cents under the soft one."""
    one = done("draw 2")
    assert one.hear(tone("draw 3", SEVEN_LIMIT["draw 3"] - 30.0, SOFT_DB)).fault == "low"
    assert one.hear(tone("draw 3", SEVEN_LIMIT["draw 3"], SOFT_DB)).fault is None
    assert one.hear(tone("draw 3", SEVEN_LIMIT["draw 3"] - 25.0, HARD_DB)).fault == "low"
    assert asked(one) == "4/6 draw 3 hard"


def test_a_root_that_was_bent_is_asked_for_again() -> None:
    """The straight third is too high beside it, and so tells it."""
    one = lesson()
    one.hear(tone("draw 2", -30.0, SOFT_DB))
    one.hear(tone("draw 2", -32.0, HARD_DB))
    assert one.hear(tone("draw 3", -12.0, SOFT_DB)).fault == "high"
    assert asked(one) == "1/6 draw 2 softly"
    again = done(*CROSS)
    assert [reed.offset_cents for _, reed in again.tuning().reeds] == pytest.approx([2.0, -12.0, 4.0], abs=0.5)


def test_a_bent_first_hearing_gives_way_to_a_straight_one() -> None:
    """Bends only go down: the higher of two is the reed."""
    one = lesson()
    one.hear(tone("draw 2", -35.0, SOFT_DB))
    one.hear(tone("draw 2", 0.0, HARD_DB))
    assert [hearing.cents for hearing in one.hearings] == pytest.approx([0.0])


def test_a_reed_that_is_badly_tuned_counts_when_it_is_heard_the_same_three_times() -> None:
    """No bend is the same each time, so a third of -40 cents stays out when it wanders and comes in when it stays."""
    one = done("draw 2")
    assert [one.hear(tone("draw 3", cents, SOFT_DB)).fault for cents in (-44.0, -38.0, -32.0)] == ["low"] * 3
    one = done("draw 2")
    assert [one.hear(tone("draw 3", cents, SOFT_DB)).fault for cents in (-40.0, -41.0, -39.0)] == ["low", "low", None]
    assert one.hear(tone("draw 3", -46.0 + 2.0, HARD_DB)).fault is None


@pytest.mark.parametrize("key", ["A", "Bb", "D", "low-F", "G"])
def test_another_harp_is_named(key: str) -> None:
    """By its root, third and fifth, none of which has to be a note of the harp that was expected."""
    assert done(*CROSS, key=key).other_key == key


def test_the_right_harp_is_never_another_one() -> None:
    """Though blow 4, 5 and 6 are root, third and fifth of an F harp."""
    assert done("draw 2", "draw 3", "blow 4", "blow 5", "blow 6").other_key is None
    assert lesson().other_key is None


def test_the_reed_that_tells_temperaments_apart_is_asked_for() -> None:
    """Draw 5 of a just harp, until it was heard; of an equal one there is none."""
    one = done(*CROSS)
    telling = telling_reed(one.tuning(), one.harp)
    assert telling is not None
    assert (telling.air, telling.hole) == ("draw", 5)
    heard = done(*CROSS, "draw 5")
    assert telling_reed(heard.tuning(), heard.harp) is None
