"""``reedwire edit``: what it shows, what it writes and what it refuses."""

from __future__ import annotations

from pathlib import Path
from typing import TypeAlias

import pytest

from bridge.takes.edited import Breakpoint
from cli.commands import run_here
from takes.made_notes import edited
from wiring.made_takes import content, make_take

Capture: TypeAlias = pytest.CaptureFixture[str]
Patch: TypeAlias = pytest.MonkeyPatch


@pytest.fixture
def take(tmp_path: Path) -> Path:
    """The phrase as a take."""
    return make_take(tmp_path / "phrase").folder.path


def test_a_dry_run_shows_the_difference_and_writes_nothing(take: Path, capsys: Capture, monkeypatch: Patch) -> None:
    """One line a note, from what to what, only where something changes."""
    before = content(take.parent)
    words = ("edit", "scale-bends", str(take), "0.5", "--dry-run")
    status, out, err = run_here(capsys, monkeypatch, *words)
    assert (status, err) == (0, "")
    assert content(take.parent) == before
    lines = out.splitlines()
    assert lines[0].split() == ["note", "start", "note", "degree", "above", "root", "settles", "lowest", "highest"]
    assert lines[1].split() == ["s", "cents", "cents", "cents", "cents"]
    assert lines[2].startswith("2     0.800  B4    3       388 -> 394  -12 -> -6   -100 -> -50  -12 -> -6")
    assert lines[3].startswith("3     2.100  B4    3")
    assert max(map(len, lines)) < 80
    assert lines[4:] == ["2 of 4 notes changed. Nothing was written."]


def test_a_note_a_hair_under_the_root_is_told_to_lie_at_0(tmp_path: Path, capsys: Capture, monkeypatch: Patch) -> None:
    """Not at -0."""
    points = (Breakpoint(0.0, -0.3, 0.5), Breakpoint(1.0, -0.3, 0.5))
    take = make_take(tmp_path / "root", [edited(1, 0.1, 1.0, 67, degree="1", points=points)]).folder.path
    words = ("edit", "settle", str(take), "--by", "10", "--degree", "1", "--notes", "1", "--dry-run")
    status, out, _ = run_here(capsys, monkeypatch, *words)
    assert status == 0
    assert "-0 " not in out


def test_the_new_take_lies_beside_the_old_one_or_where_it_is_told_to(
    take: Path, tmp_path: Path, capsys: Capture, monkeypatch: Patch
) -> None:
    """Named after the old one and the edit, or as told."""
    status, out, _ = run_here(capsys, monkeypatch, "edit", "settle", str(take), "--by", "-15", "--notes", "2")
    assert status == 0
    assert out == f"1 of 4 notes changed. The new take lies in {tmp_path / 'phrase-settle'}.\n"
    words = ("edit", "straighten", str(take), "--no-scoop", "--out", str(tmp_path / "out"), "--name", "still")
    status, out, _ = run_here(capsys, monkeypatch, *words)
    assert status == 0
    assert (tmp_path / "out" / "still" / "notes.csv").exists()
    assert {path.name for path in tmp_path.iterdir()} == {"phrase", "phrase-settle", "out"}


def test_cut_and_join_tell_how_much_is_left(take: Path, tmp_path: Path, capsys: Capture, monkeypatch: Patch) -> None:
    """In notes."""
    status, out, _ = run_here(capsys, monkeypatch, "edit", "cut", str(take), "--from", "0:01", "--to", "3")
    assert status == 0
    assert out.startswith("2 of 4 notes kept. The new take lies in ")
    halves = (str(take), str(tmp_path / "phrase-cut"))
    status, out, _ = run_here(capsys, monkeypatch, "edit", "join", *halves, "--gap", "0.5", "--dry-run")
    assert (status, out) == (0, "2 takes joined: 6 notes. Nothing was written.\n")


def test_transposing_names_notes_over_the_new_root(take: Path, capsys: Capture, monkeypatch: Patch) -> None:
    """The third over E is G sharp (common practice); what cannot be played is told beside."""
    status, out, _ = run_here(capsys, monkeypatch, "edit", "transpose", str(take), "--harp", "A", "--dry-run")
    assert status == 0
    assert "B4 -> G#4" in out
    words = ("edit", "transpose", str(take), "--harp", "low-C", "--position", "twelfth", "--dry-run")
    status, _, _ = run_here(capsys, monkeypatch, *words)
    assert status == 0


def test_another_tuning_is_told(take: Path, capsys: Capture, monkeypatch: Patch) -> None:
    """Another A4 changes no note; a harp that is tuned just has its third elsewhere, and the note goes along."""
    lower = ("edit", "transpose", str(take), "--a4", "432", "--dry-run")
    told = "A4 goes from 440 to 432 Hz.\n"
    assert run_here(capsys, monkeypatch, *lower) == (0, "None of 4 notes changed. Nothing was written.\n", told)
    file = take.parent / "flat.yaml"
    file.write_text(
        "format: 1\ndate: 2026-11-25\nkey: C\na4_hz: 440.0\ntemperament: equal\n"
        "reeds:\n  draw 2: {offset_cents: -20.0}\n  draw 3: {offset_cents: 0.0}\n",
        encoding="utf-8",
    )
    run = ("edit", "transpose", str(take), "--harp-file", str(file), "--dry-run")
    status, out, err = run_here(capsys, monkeypatch, *run)
    assert (status, err) == (0, "")
    # The root is 20 cents low, the third is not: it lies 20 cents further above it.
    assert "388 -> 408" in out


def test_a_tempo_is_needed_to_quantise(take: Path, capsys: Capture, monkeypatch: Patch) -> None:
    """Said where none is known; given, it shows where the notes go."""
    status, _, err = run_here(capsys, monkeypatch, "edit", "quantise", str(take))
    assert status == 2
    assert "give --tempo" in err
    words = ("--tempo", "60", "--bar-1", "0", "--grid", "1/4", "--swing", "0.5", "--dry-run")
    status, out, _ = run_here(capsys, monkeypatch, "edit", "quantise", str(take), *words)
    assert status == 0
    assert "0.800 -> 1.000" in out


def test_a_tempo_can_be_estimated(tmp_path: Path, capsys: Capture, monkeypatch: Patch) -> None:
    """Notes every half second, played 20 ms early or late by turns: 120 a minute, and all go to their beats."""
    notes = [edited(number + 1, 0.5 * number + 0.3 + 0.02 * (number % 2), 0.3, 71) for number in range(24)]
    take = make_take(tmp_path / "steady", notes).folder.path
    words = ("edit", "quantise", str(take), "--tempo", "auto", "--grid", "1/4", "--dry-run")
    status, out, _ = run_here(capsys, monkeypatch, *words)
    assert status == 0
    said, *_ = out.splitlines()
    assert 119.0 < float(said.split()[1]) < 121.0
    assert said.endswith(" % sure of the pulse, not of the bar).")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("scale-bends", "TAKE", "9"), "FACTOR: found 9, allowed: 0 (straight) to 3"),
        (("scale-bends", "TAKE", "0.5", "--degree", "8"), "There is no degree '8'"),
        (("scale-bends", "TAKE", "0.5", "--notes", "x"), "Give numbers of notes such as 3,5-9"),
        (("scale-bends", "TAKE", "0.5", "--from", "3", "--to", "2"), "nothing lies between them"),
        (("settle", "TAKE"), "either --at CENTS above the root, or --by CENTS"),
        (("settle", "TAKE", "--at", "350", "--by", "5"), "either --at CENTS above the root, or --by CENTS"),
        (("settle", "TAKE", "--at", "nan"), "--at: found nan, allowed: 0 to 1200 cents"),
        (("settle", "TAKE", "--at", "-50"), "--at: found -50, allowed: 0 to 1200 cents"),
        (("settle", "TAKE", "--by", "1e9"), "--by: found 1e+09, allowed: -1200 to 1200 cents"),
        (("settle", "TAKE", "--by", "nan"), "--by: found nan, allowed: -1200 to 1200 cents"),
        (("scale-bends", "TAKE", "nan"), "FACTOR: found nan"),
        (("settle", "TAKE", "--by", "5", "--notes", "1-9999999999"), "There is no note 5-9999999999."),
        (("quantise", "TAKE", "--tempo", "nan"), "--tempo: found 'nan'"),
        (("join", "TAKE", "TAKE", "--gap", "nan"), "--gap: found nan"),
        (("quantise", "TAKE", "--tempo", "5"), "--tempo: found '5', allowed: 20 to 400"),
        (("quantise", "TAKE", "--tempo", "fast"), "or auto"),
        (("quantise", "TAKE", "--tempo", "90", "--grid", "1/7"), "--grid: found '1/7', allowed: 1/4, 1/8"),
        (("quantise", "TAKE", "--tempo", "90", "--strength", "2"), "--strength: found 2, allowed: 0 to 1"),
        (("quantise", "TAKE", "--tempo", "90", "--swing", "0.9"), "allowed is 0.5 to 0.75"),
        (("transpose", "TAKE"), "Say to which harp"),
        (("transpose", "TAKE", "--harp", "H"), "H"),
        (("cut", "TAKE"), "Say what to keep"),
        (("join", "TAKE"), "at least two takes"),
        (("cut", "nowhere", "--to", "2"), "nowhere is no folder"),
        (("settle", "TAKE", "--by", "5", "--name", "a/b"), "cannot name a take"),
    ],
)
def test_what_cannot_be_done_is_told_with_what_is_allowed(
    take: Path, capsys: Capture, monkeypatch: Patch, words: tuple[str, ...], said: str
) -> None:
    """Status 2, one line, and nothing written."""
    before = content(take.parent)
    status, out, err = run_here(capsys, monkeypatch, "edit", *(str(take) if word == "TAKE" else word for word in words))
    assert (status, out) == (2, "")
    assert said in err
    assert content(take.parent) == before
