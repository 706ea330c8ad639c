"""Breakpoints gathered from rows in any order, against a sorted dictionary of Python's; those known are held once."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from bridge.takes.corners import Corners
from bridge.takes.edited import Breakpoint, EditedNote
from bridge.takes.inflections import inflections_csv
from bridge.takes.known import Known, Versions
from bridge.takes.notes import notes_csv
from bridge.takes.tables import read_tables
from takes.made_notes import edited

ROWS = st.lists(st.tuples(st.integers(1, 3), st.integers(0, 6)), max_size=40)
VERSION = [
    edited(number, float(number), 0.5, 71, points=(Breakpoint(0.0, -50.0, 0.5), Breakpoint(0.25, float(number), 0.5)))
    for number in range(1, 5)
]


def read(folder: Path, notes: list[EditedNote], known: Versions) -> list[EditedNote]:
    """These notes written and read back."""
    for name, text in (("notes.csv", notes_csv(notes)), ("inflections.csv", inflections_csv(notes))):
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return read_tables(folder / "notes.csv", folder / "inflections.csv", known=known)


@given(ROWS)
def test_rows_in_any_order_come_out_in_order_of_time(rows: list[tuple[int, int]]) -> None:
    """Each note its own; of those of one time the first stays, and the line of that is told of the others."""
    corners = Corners(Known([]))
    kept: dict[int, dict[int, int]] = {}
    for line, (note_id, at) in enumerate(rows, start=2):
        times = kept.setdefault(note_id, {})
        assert corners.put(note_id, line, Breakpoint(float(at), float(line), 0.5)) == times.get(at)
        times.setdefault(at, line)
    wanted = {
        note_id: tuple(Breakpoint(float(at), float(line), 0.5) for at, line in sorted(times.items()))
        for note_id, times in kept.items()
    }
    assert corners.points() == wanted


def test_what_is_the_same_in_a_known_version_is_that(tmp_path: Path) -> None:
    """The note itself, or its breakpoints where only its row is another, from whichever version has them."""
    moved = replace(VERSION[1], start_s=2.125)
    bent = replace(VERSION[2], points=(Breakpoint(0.0, 7.0, 0.5),))
    first, second, third, fourth = read(tmp_path, [VERSION[0], moved, bent, VERSION[3]], [VERSION[:3], VERSION[3:]])
    assert first is VERSION[0]
    assert second == moved
    assert second.points is VERSION[1].points
    assert third == bent
    assert fourth is VERSION[3]


@given(st.integers(0, 3), st.sampled_from(["start_s", "length_s", "midi_note", "velocity", "degree", "points"]))
def test_what_is_another_is_never_taken_for_the_known(place: int, name: str) -> None:
    """Whichever of its parts is."""
    others: dict[str, Any] = {
        "start_s": 0.125,
        "length_s": 0.375,
        "midi_note": 70,
        "velocity": 1,
        "degree": "5",
        "points": (Breakpoint(0.0, 0.0, 0.5),),
    }
    other = replace(VERSION[place], **{name: others[name]})
    known = Known([VERSION])
    assert (known.row(other) is VERSION[place]) == (name == "points")
    assert known.row(other) in {other, VERSION[place]}
