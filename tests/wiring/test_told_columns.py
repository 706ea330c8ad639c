"""The columns of ``notes.csv`` that follow from the others, after edits by hand.

Holes and notes of a C harp: OEIS A291810, bends by common practice. In cross position its root is G.
"""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge.base.errors import UserError
from bridge.wiring.rebuilding import Rebuilt, rebuild_take
from cli.commands import run_here
from takes.spreadsheets import SAVINGS
from wiring.made_takes import PHRASE, content, make_take

TABLES = ("notes.csv", "inflections.csv")
DERIVED = ("degree", "hole", "air", "reed", "reed_bend_cents", "or_else")


@pytest.fixture
def take(tmp_path: Path) -> Path:
    """The phrase as it is when it was just played: its tables and its MIDI file are kept as played too."""
    path = tmp_path / "phrase"
    make_take(path, sound_s=None)
    rebuild_take(path, pytest.fail)
    shutil.rmtree(path / "rebuilt")
    (path / "played").mkdir()
    for name in (*TABLES, "performance.mid"):
        shutil.copy(path / name, path / "played" / name)
    return path


def rebuilt(take: Path) -> Rebuilt:
    """What a rebuild does, which has nothing to say."""
    return rebuild_take(take, pytest.fail)


def rows(path: Path) -> dict[str, dict[str, str]]:
    """The notes by their id, read with nothing of the project."""
    with path.open(encoding="utf-8", newline="") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


def curve_at(take: Path, note: str, cents: float) -> None:
    """Hold a note at a bend from its beginning to its end, by hand."""
    lines = (take / "inflections.csv").read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not line.startswith(f"{note},")]
    (take / "inflections.csv").write_text("\n".join([*kept, f"{note},0,{cents},0.5", ""]), encoding="utf-8")


def cell(take: Path, note: str, column: str, value: str) -> None:
    """Write something into a cell of ``notes.csv``, by hand."""
    found = rows(take / "notes.csv")
    found[note][column] = value
    with (take / "notes.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(found[note]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(found.values())


def told(row: dict[str, str]) -> list[str]:
    """What is derived of a note, but the other reading."""
    return [row[name] for name in DERIVED[:-1]]


def test_an_edited_curve_is_told_anew_in_the_table(take: Path) -> None:
    """Draw 3 pulled down by a whole tone is A, the second degree; nothing else is written by it."""
    before = rows(take / "notes.csv")
    curve_at(take, "2", -200.0)
    curves = (take / "inflections.csv").read_bytes()
    done = rebuilt(take)
    after = rows(take / "notes.csv")
    assert told(after["2"]) == ["2", "3", "draw", "bend", "-200.0"]
    assert done.told == {2}
    assert {name: value for name, value in after["2"].items() if name not in DERIVED} == {
        name: value for name, value in before["2"].items() if name not in DERIVED
    }
    assert [after[note] for note in "134"] == [before[note] for note in "134"]
    assert (take / "inflections.csv").read_bytes() == curves
    assert (take / "tab.txt").read_text(encoding="utf-8").splitlines()[-1] == "-2 -3'' -3 -4"
    assert done.before is not None
    assert rows(done.before / "notes.csv") == before
    again = content(take)
    assert rebuilt(take).changed == ()
    assert content(take) == again


def test_another_note_number_is_told_anew(take: Path) -> None:
    """The third written as D: draw 4, the fifth."""
    cell(take, "2", "midi_note", "74")
    curve_at(take, "2", 0.0)
    rebuilt(take)
    assert told(rows(take / "notes.csv")["2"]) == ["5", "4", "draw", "straight", "0.0"]


def test_a_shorter_note_dwells_elsewhere(take: Path) -> None:
    """A third that is let go from a tone below after 0.6 s: cut there, it is no third any more."""
    lines = [line for line in (take / "inflections.csv").read_text(encoding="utf-8").splitlines() if line[:2] != "2,"]
    lines += ["2,0,-200,0.5", "2,0.45,-200,0.5", "2,0.46,0,0.5"]
    (take / "inflections.csv").write_text("\n".join([*lines, ""]), encoding="utf-8")
    rebuilt(take)
    assert rows(take / "notes.csv")["2"]["degree"] == "3"
    cell(take, "2", "length_s", "0.6")
    rebuilt(take)
    assert rows(take / "notes.csv")["2"]["degree"] == "2"


def test_what_the_player_writes_himself_stays(take: Path) -> None:
    """G is draw 2, or blow 3: who lowers it by 20 cents and says blow 3 in the same edit has that in table and tab."""
    curve_at(take, "1", -20.0)
    for column, value in {"hole": "3", "air": "blow", "reed_bend_cents": "-20.0", "or_else": "draw 2"}.items():
        cell(take, "1", column, value)
    rebuilt(take)
    assert told(rows(take / "notes.csv")["1"]) == ["1", "3", "blow", "straight", "-20.0"]
    assert (take / "tab.txt").read_text(encoding="utf-8").splitlines()[-1].startswith("+3")


def test_an_edit_that_is_taken_back_is_told_as_it_was_played(take: Path) -> None:
    """Both tables, and the MIDI file, byte for byte."""
    before = {name: data for name, data in content(take).items() if not name.startswith("played")}
    curves = (take / "inflections.csv").read_bytes()
    curve_at(take, "2", -200.0)
    assert not rebuilt(take).as_played
    (take / "inflections.csv").write_bytes(curves)
    assert rebuilt(take).as_played
    assert {name: content(take)[name] for name in before} == before


def test_who_edits_only_loudness_or_start_is_told_nothing(take: Path) -> None:
    """No pitch is another, so that the table stays as its player left it."""
    cell(take, "2", "velocity", "100")
    cell(take, "4", "start_s", "3.4")
    left = (take / "notes.csv").read_bytes()
    assert rebuilt(take).told == frozenset()
    assert (take / "notes.csv").read_bytes() == left


@pytest.mark.parametrize("saving", sorted(SAVINGS))
def test_a_spreadsheet_may_have_made_the_edit(take: Path, saving: str) -> None:
    """The table that is told anew is one as the program writes it."""
    curve_at(take, "2", -200.0)
    for name in TABLES:
        (take / name).write_bytes(SAVINGS[saving]((take / name).read_text(encoding="utf-8")))
    rebuilt(take)
    assert told(rows(take / "notes.csv")["2"]) == ["2", "3", "draw", "bend", "-200.0"]


WRITTEN: dict[str, Callable[[], str]] = {
    "nothing": lambda: "9,3.9,0.3,72,,96,,,,,\n",
    "a degree": lambda: "9,3.9,0.3,72,4,96,,,,,\n",
    "a reed": lambda: "9,3.9,0.3,72,,96,4,blow,straight,0.0,\n",
}


@pytest.mark.parametrize("what", WRITTEN)
def test_an_added_note_is_told_what_it_lacks(take: Path, what: str) -> None:
    """C over the root G is the fourth degree, blow 4."""
    with (take / "notes.csv").open("a", encoding="utf-8") as file:
        file.write(WRITTEN[what]())
    rebuilt(take)
    assert told(rows(take / "notes.csv")["9"]) == ["4", "4", "blow", "straight", "0.0"]
    assert (take / "tab.txt").read_text(encoding="utf-8").splitlines()[-1] == "-2 -3 -3 -4 +4"


def test_the_command_says_which_notes(
    take: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line, by their numbers."""
    curve_at(take, "2", -200.0)
    status, out, _ = run_here(capsys, monkeypatch, "rebuild", str(take))
    assert status == 0
    assert out.splitlines()[0] == "notes.csv: degree and reed told anew after your edits: note 2."
    assert [note.id for note in PHRASE] == [1, 2, 3, 4]


def test_what_no_hole_gives_has_no_hole(take: Path) -> None:
    """A3 lies below the lowest note of a C harp, C4 (OEIS A291810): no hole is made up, and the old one goes."""
    cell(take, "1", "midi_note", "57")
    rebuilt(take)
    assert told(rows(take / "notes.csv")["1"])[1:] == ["", "", "", ""]
    assert (take / "tab.txt").read_text(encoding="utf-8").splitlines()[-1].startswith("? ")
    assert "<text>?</text>" in (take / "score.musicxml").read_text(encoding="utf-8")
    cell(take, "1", "midi_note", "67")
    rebuilt(take)
    assert told(rows(take / "notes.csv")["1"])[1:] == ["2", "draw", "straight", "0.0"]


@pytest.mark.parametrize(
    ("cells", "complaint"),
    [
        (("11", "draw", "straight"), r"notes\.csv:2: hole: found 11, allowed: 1 to 10, the holes of the C harp"),
        (("6", "blow", "bend"), r"notes\.csv:2: .*found 'blow 6 bend', allowed: draw 6 bend, blow 6 overblow, or str"),
        (("8", "blow", "overblow"), r"notes\.csv:2: .*'blow 8 overblow', allowed: blow 8 bend, draw 8 overdraw, or"),
    ],
)
def test_a_hole_that_is_not_there_is_refused(take: Path, cells: tuple[str, str, str], complaint: str) -> None:
    """Only the higher reed of a hole bends (common practice, no source): draw to hole 6, blow above (OEIS A291810)."""
    for column, value in zip(("hole", "air", "reed"), cells, strict=True):
        cell(take, "1", column, value)
    with pytest.raises(UserError, match=complaint):
        rebuilt(take)


@pytest.mark.parametrize("off", [-0.4, -0.01, 0.0, 0.01, 0.4])
def test_a_quarter_tone_is_told_as_straight_whatever_its_last_digit(take: Path, off: float) -> None:
    """Half way from draw 3 to its first bend, to the whole cent: one tab, not one by chance."""
    curve_at(take, "2", -50.0 + off)
    rebuilt(take)
    assert told(rows(take / "notes.csv")["2"])[1:4] == ["3", "draw", "straight"]
    curve_at(take, "2", -150.0 + off)
    rebuilt(take)
    assert (take / "tab.txt").read_text(encoding="utf-8").splitlines()[-1] == "-2 -3' -3 -4"
