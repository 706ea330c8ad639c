"""Tables read back: as they were written, as spreadsheets save them, and with every fault told at its place."""

from __future__ import annotations

import codecs
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.base.errors import ManyFaultsError, UserError
from bridge.takes.edited import Breakpoint, EditedNote
from bridge.takes.inflections import inflections_csv
from bridge.takes.notes import notes_csv
from bridge.takes.tables import read_tables
from takes.made_notes import any_notes, edited
from takes.spreadsheets import SAVINGS

NOTES = """id,start_s,length_s,midi_note,degree,velocity,hole,air,reed,reed_bend_cents,or_else
1,0.20000,0.30000,67,1,96,2,draw,straight,-0.2,blow 3
2,0.50000,0.60000,71,3,80,3,draw,bend,-47.2,
5,1.50000,0.25000,73,b5,96,,,,,
"""
INFLECTIONS = """id,at_s,bend_cents,breath
1,0.00000,-92.19,0.448
1,0.30000,0.00,0.572
2,0.01250,-100.00,0.500
2,0.20000,-14.00,0.750
"""
#: No fixture of hypothesis may be shared between examples; the folder is, and each example writes both files anew.
FOLDER_IS_SHARED = settings(suppress_health_check=[HealthCheck.function_scoped_fixture])


def read(folder: Path, notes: str | bytes = NOTES, inflections: str | bytes = INFLECTIONS) -> list[EditedNote]:
    """What is read of two files with these contents."""
    for name, content in (("notes.csv", notes), ("inflections.csv", inflections)):
        (folder / name).write_bytes(content.encode() if isinstance(content, str) else content)
    return read_tables(folder / "notes.csv", folder / "inflections.csv")


def faults(folder: Path, notes: str = NOTES, inflections: str = INFLECTIONS) -> list[str]:
    """What is told of two files, without the folder."""
    with pytest.raises(UserError) as raised:
        read(folder, notes, inflections)
    errors = raised.value.errors if isinstance(raised.value, ManyFaultsError) else (raised.value,)
    return [str(error).removeprefix(f"{folder}/") for error in errors]


def test_both_tables_make_the_notes(tmp_path: Path) -> None:
    """Every cell where it belongs; a note without inflections is straight, its breath in the middle."""
    first, second, third = read(tmp_path)
    assert first == EditedNote(
        *(1, 0.2, 0.3, 67, "1", 96, 2, "draw", "straight", -0.2, "blow 3"),
        (Breakpoint(0.0, -92.19, 0.448), Breakpoint(0.3, 0.0, 0.572)),
    )
    assert (second.hole, second.reed, second.reed_bend_cents, second.or_else) == (3, "bend", -47.2, "")
    assert second.points == (Breakpoint(0.0125, -100.0, 0.5), Breakpoint(0.2, -14.0, 0.75))
    assert (third.id, third.hole, third.air, third.reed_bend_cents) == (5, None, "", None)
    assert third.points == (Breakpoint(0.0, 0.0, 0.5),)


@FOLDER_IS_SHARED
@given(any_notes(most_cents=2400.0))
def test_what_was_read_is_written_byte_for_byte(tmp_path: Path, notes: list[EditedNote]) -> None:
    """An edit that changes nothing leaves both tables as they were."""
    tables = notes_csv(notes), inflections_csv(notes)
    again = read(tmp_path, *tables)
    assert (notes_csv(again), inflections_csv(again)) == tables
    assert again == notes


def test_the_tables_of_the_test_are_as_the_program_writes_them(tmp_path: Path) -> None:
    """Reeds and all, apart from the inflections that the third note has not had."""
    notes = read(tmp_path)
    assert notes_csv(notes) == NOTES
    assert inflections_csv(notes) == INFLECTIONS + "5,0.00000,0.00,0.500\n"


@FOLDER_IS_SHARED
@given(any_notes(most_cents=2400.0), st.sampled_from(sorted(SAVINGS)), st.sampled_from(sorted(SAVINGS)))
def test_spreadsheet_variants_read_the_same(tmp_path: Path, notes: list[EditedNote], one: str, other: str) -> None:
    """Each of the two tables saved in any of the ways."""
    assert read(tmp_path, SAVINGS[one](notes_csv(notes)), SAVINGS[other](inflections_csv(notes))) == notes


@pytest.mark.parametrize("saving", sorted(SAVINGS))
def test_each_variant_reads_the_same_with_reeds(tmp_path: Path, saving: str) -> None:
    """The table with every kind of cell, in each of the ways."""
    plain = read(tmp_path)
    assert read(tmp_path, SAVINGS[saving](NOTES), SAVINGS[saving](INFLECTIONS)) == plain


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("2,0.50000", "x,0.50000", "3: id: found 'x', allowed: a whole number from 1 to 1000000000"),
        ("2,0.50000", "1e999,0.50000", "3: id: found '1e999', allowed: a whole number from 1 to 1000000000"),
        ("2,0.50000", "1,0.50000", "3: id: found 1, allowed: each id once; line 2 has it already"),
        ("2,0.50000", "2,", "3: start_s: found '', allowed: a number from 0 to 300000 s"),
        ("0.60000", '"1.234,5"', "3: length_s: found '1.234,5', allowed: a number from 0 to 300000 s"),
        ("bend,-47.2,", "bend,-47.2,,well", "3: a column without a name: found 'well', allowed: nothing"),
        ("0.60000", "nan", "3: length_s: found 'nan', allowed: a number from 0 to 300000 s"),
        ("0.60000", "-0.6", "3: length_s: found '-0.6', allowed: a number from 0 to 300000 s"),
        ("0.60000", "1. Jun", "3: length_s: found '1. Jun', allowed: a number from 0 to 300000 s"),
        ("71", "71.5", "3: midi_note: found '71.5', allowed: a whole number from 0 to 127"),
        ("71", "128", "3: midi_note: found '128', allowed: a whole number from 0 to 127"),
        ("71,3", "71,8", "3: degree: found '8', allowed: 1, b2, 2, b3, 3, 4, b5, 5, b6, 6, b7, 7, or nothing"),
        ("80", "0", "3: velocity: found '0', allowed: a whole number from 1 to 127"),
        ("80,3,draw", "80,3,suck", "3: air: found 'suck', allowed: blow, draw, or nothing"),
        ("80,3,draw", "80,,draw", "3: hole, air, reed: found 'only some of them', allowed: all three, or none"),
        ("bend,-47.2", "bent,-47.2", "3: reed: found 'bent', allowed: straight, bend, overblow, overdraw, or nothing"),
        ("blow 3", "blow three", "2: or_else: found 'blow three', allowed: such as blow 3 or draw 1 bend, or nothing"),
        (
            "0.50000,0.60000",
            "0.40000,0.60000",
            "3: start_s: found 0.4, allowed: from 0.50000 on, where note 1 in line 2",
        ),
        ("degree,", "", "1: the column degree is missing. The columns are id,start_s,"),
        ("degree,", "colour,degree,", "1: the column 'colour' is none of this table; take it out."),
        ("or_else", "id", "1: the column 'id' is there twice; keep one."),
        ("blow 3", '"blow 3', "2: this row cannot be read"),
    ],
)
def test_a_fault_in_the_notes_is_told_at_its_place(tmp_path: Path, old: str, new: str, told: str) -> None:
    """File, line, column, what was found and what is allowed."""
    assert old in NOTES
    assert any(fault.startswith(f"notes.csv:{told}") for fault in faults(tmp_path, NOTES.replace(old, new, 1)))


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("2,0.01250", "7,0.01250", "4: id: found 7, allowed: ids of the notes in notes.csv; take this row out"),
        ("0.20000", "0.60003", "5: at_s: found 0.60003, allowed: from 0 to 0.60000, the length of note 2"),
        ("0.20000", "-0.1", "5: at_s: found '-0.1', allowed: a number from 0 to 300000 s"),
        ("0.20000", "0.0125", "5: at_s: found 0.0125, allowed: each time of note 2 once; line 4 has it already"),
        ("-14.00", "flat", "5: bend_cents: found 'flat', allowed: a number from -9600 to 9600 cents"),
        ("0.750", "75 %", "5: breath: found '75 %', allowed: a number from 0 to 1"),
        ("0.750", "1.01", "5: breath: found '1.01', allowed: a number from 0 to 1"),
        ("bend_cents", "bend", "1: the column bend_cents is missing."),
    ],
)
def test_a_fault_in_the_inflections_is_told_at_its_place(tmp_path: Path, old: str, new: str, told: str) -> None:
    """File, line, column, what was found and what is allowed."""
    found = faults(tmp_path, NOTES, INFLECTIONS.replace(old, new, 1))
    assert found[0].startswith(f"inflections.csv:{told}")


def test_all_faults_of_both_files_are_told_at_once(tmp_path: Path) -> None:
    """In the order of the lines, notes first; what follows from another fault alone is not told."""
    notes = NOTES.replace("0.30000,67", "0.30000,670").replace("0.60000", "long")
    inflections = INFLECTIONS.replace("-92.19", "?").replace("2,0.20000", "9,0.20000") + "9,0.3,0,0\n"
    assert [fault.split(",")[0].split(": found")[0] for fault in faults(tmp_path, notes, inflections)] == [
        "notes.csv:2: midi_note",
        "notes.csv:3: length_s",
        "inflections.csv:2: bend_cents",
        "inflections.csv:5: id",
    ]


def test_a_fault_in_every_row_is_told_twenty_times_and_counted(tmp_path: Path) -> None:
    """A column that a spreadsheet has spoiled fills no screen."""
    rows = "".join(f"1,0.{number:05},May,0.5\n" for number in range(100))
    found = faults(tmp_path, NOTES, INFLECTIONS.splitlines()[0] + "\n" + rows)
    assert len(found) == 21
    assert "inflections.csv: bend_cents: 80 more rows, allowed: a number from -9600 to 9600 cents" in found


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "notes.csv:1: found nothing, allowed: a table with the columns id,"),
        (b"id\nna\xefve\n", "notes.csv:2: found bytes that are no UTF-8 text"),
    ],
)
def test_what_is_no_table_is_told(tmp_path: Path, content: bytes, told: str) -> None:
    """And nothing is said of the ids that it would have had."""
    with pytest.raises(UserError) as raised:
        read(tmp_path, content)
    assert str(raised.value).removeprefix(f"{tmp_path}/").startswith(told)


@pytest.mark.parametrize(
    ("broken", "line"), [(b"\xff", 20_003), (b"\xc3", 20_003), (b"\xe2\x82", 20_003), (b"\xe2\x82\n", 20_003)]
)
def test_what_is_no_text_is_told_far_down_a_long_table(tmp_path: Path, broken: bytes, line: int) -> None:
    """With its line, wherever the file is cut into blocks, and a sign that the end of the file has cut off too."""
    rows = b"".join(b"1,0.%05d,0.00,0.500\n" % number for number in range(20_000))
    with pytest.raises(UserError, match=rf"inflections\.csv:{line}: found bytes that are no UTF-8 text"):
        read(tmp_path, NOTES, INFLECTIONS.splitlines()[0].encode() + b"\n\n" + rows + broken)


def test_a_file_in_utf_16_that_lost_its_end_is_told_with_its_last_line(tmp_path: Path) -> None:
    """Half of the LF of line 3 is gone: there is no line 4, although the half that is left looks like one."""
    with pytest.raises(UserError, match=r"notes\.csv:3: found bytes that are no UTF-8 text"):
        read(tmp_path, "id\n1\n2\n".encode("utf-16-le").join([codecs.BOM_UTF16_LE, b""])[:-1])


def test_rows_above_one_that_cannot_be_read_are_told_too(tmp_path: Path) -> None:
    """But not the ids of the other table, which may stand in what was not read."""
    told = faults(tmp_path, NOTES.replace("67,1", "670,1").replace("71,3,80", '71,3,"80'))
    assert [fault.split(", allowed")[0].split(" (")[0] for fault in told] == [
        "notes.csv:2: midi_note: found '670'",
        "notes.csv:3: this row cannot be read",
    ]


def test_a_missing_file_is_told(tmp_path: Path) -> None:
    """With its name."""
    with pytest.raises(ManyFaultsError, match=r"notes\.csv: it cannot be read .No such file"):
        read_tables(tmp_path / "notes.csv", tmp_path / "inflections.csv")


def test_a_note_inside_a_long_one_is_found_behind_others(tmp_path: Path) -> None:
    """Each note is compared with the one that sounds longest, not only with its neighbour."""
    notes = [edited(1, 0.0, 2.0, 71), edited(2, 0.5, 0.1, 71), edited(3, 1.0, 0.1, 71)]
    told = faults(tmp_path, notes_csv(notes), inflections_csv(notes))
    assert [fault.split(", allowed")[0] for fault in told] == [
        "notes.csv:3: start_s: found 0.5",
        "notes.csv:4: start_s: found 1.0",
    ]


def test_of_a_note_that_was_made_shorter_one_row_is_told(tmp_path: Path) -> None:
    """The first that lies beyond its end, and how many do."""
    told = faults(tmp_path, NOTES.replace("0.60000,71", "0.01000,71"))
    allowed = "from 0 to 0.01000, the length of note 2 (2 rows lie beyond it; take them out)"
    assert told == [f"inflections.csv:4: at_s: found 0.0125, allowed: {allowed}"]


def test_a_table_without_its_first_line_is_told_once(tmp_path: Path) -> None:
    """The names to put above it; not each of them as missing, and each cell as too many."""
    names, rows = NOTES.split("\n", 1)
    assert faults(tmp_path, rows) == [
        f"notes.csv:1: the names of the columns are missing. Put this line above the table: {names}"
    ]
