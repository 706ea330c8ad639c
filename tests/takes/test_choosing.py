"""Which notes an edit is for."""

from __future__ import annotations

import pytest

from bridge.base.errors import UserError
from bridge.takes.choosing import Choice, parse_degrees, parse_ids
from bridge.takes.differing import Change, changes
from takes.made_notes import edited

NOTES = [edited(1, 0.0, 0.5, 67, degree="1"), edited(2, 1.0, 0.5, 71), edited(5, 2.0, 0.5, 74, degree="5")]


def chosen(choice: Choice) -> list[int]:
    """Numbers of the notes it holds."""
    return [note.id for note in NOTES if choice.holds(note)]


def test_notes_are_chosen_by_number_degree_and_time() -> None:
    """All that is said must hold; what only touches a time is not in it."""
    assert chosen(Choice()) == [1, 2, 5]
    assert chosen(Choice(ids=parse_ids("1, 3-9"))) == [1, 5]
    assert chosen(Choice(degrees=parse_degrees("3,1"))) == [1, 2]
    assert chosen(Choice(from_s=0.5, to_s=2.0)) == [2]
    assert chosen(Choice(ids=parse_ids("1-2"), degrees=parse_degrees("5"))) == []


def test_the_third_is_one_place() -> None:
    """Whoever says 3 means its minor side too; b3 alone is b3 alone."""
    assert parse_degrees("3,5") == {"b3", "3", "5"}
    assert parse_degrees("b3") == {"b3"}


@pytest.mark.parametrize("words", ["", "x", "3-", "9-5", "1,,2", "-3", "1.5"])
def test_what_is_no_list_of_numbers_is_refused(words: str) -> None:
    """With what was found and an example."""
    with pytest.raises(UserError, match="3,5-9"):
        parse_ids(words)


def test_unknown_names_are_refused_with_those_there_are() -> None:
    """Of degrees, and of the notes of the take."""
    with pytest.raises(UserError, match=r"'8'.*1 b2 2"):
        parse_degrees("3,8")
    with pytest.raises(UserError, match=r"no note 3, 4\. .* 1 to 5"):
        Choice(ids=parse_ids("2-5")).check(NOTES)


def test_a_difference_tells_what_is_gone_what_is_new_and_what_is_another() -> None:
    """What stayed is not told."""
    moved, new = edited(2, 1.1, 0.5, 71), edited(6, 3.0, 0.5, 71)
    assert changes(NOTES, [moved, NOTES[2], new]) == [
        Change(NOTES[0], None),
        Change(NOTES[1], moved),
        Change(None, new),
    ]
    assert changes(NOTES, list(NOTES)) == []
