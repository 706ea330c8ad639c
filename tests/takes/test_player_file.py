"""What a player has practised: appended, read again, never lost."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.base.errors import UserError
from bridge.study.advice import Advice
from bridge.study.attempt import Attempt
from bridge.study.exercises import Exercise
from bridge.study.glides import Glide
from bridge.study.marks import Beat, NoteMarks
from bridge.study.vibrato import Vibrato
from bridge.takes.player_file import Kept, keep, player_path, read_kept, require_player

EXERCISE = Exercise("blue", "Blue", "Hold it.", (), 8.0)
NOTE = NoteMarks(
    *(1.0, 2.0, 315.0, 399.0, 1.1, Glide(315.0, 399.0, 0.5, 0.6), 310.0, 402.0, 2.0),
    *(Vibrato(5.0, 20.0, 1.2, 0.7), 1.0, False, -20.0, 0.012),
)


def attempt(off_cents: float = 12.0, tempo: float | None = 72.0) -> Attempt:
    """One time through the exercise with two notes, of which one was heard."""
    beat = None if tempo is None else Beat(0.0, 60.0 / tempo)
    return Attempt(EXERCISE, beat, (NOTE, None), Advice("late", "Start sooner.", off_cents))


def test_what_is_kept_is_read_again(tmp_path: Path) -> None:
    """In order, with tempo or without, in a folder that is made."""
    path = tmp_path / "new" / "me.jsonl"
    assert read_kept(path) == ([], 0)
    keep(path, attempt(), "2026-11-29T10:00:00", "C harp")
    keep(path, attempt(8.25, None), "2026-11-29T10:01:00", "C harp")
    assert read_kept(path)[0] == [
        Kept("2026-11-29T10:00:00", "blue", 72.0, 12.0, "late"),
        Kept("2026-11-29T10:01:00", "blue", None, 8.25, "late"),
    ]
    first = json.loads(path.read_text("utf-8").splitlines()[0])
    assert first["notes"][0]["release"] == {"from_cents": 315.0, "to_cents": 399.0, "start_s": 0.5, "length_s": 0.6}
    assert first["notes"][0]["vibrato"]["rate_hz"] == 5.0
    assert first["notes"][1] is None


@given(cut=st.integers(1, 200))
@settings(deadline=None, max_examples=25)
def test_a_torn_last_line_costs_nothing_else(tmp_path_factory: pytest.TempPathFactory, cut: int) -> None:
    """Wherever the machine stopped in the third line, the two before it and one after it are read."""
    path = tmp_path_factory.mktemp("torn") / "me.jsonl"
    for _ in range(3):
        keep(path, attempt(), "2026-11-29T10:00:00", "C harp")
    data = path.read_bytes()
    path.write_bytes(data[:-cut])
    kept, torn = read_kept(path)
    assert len(kept) in {2, 3}
    keep(path, attempt(5.0), "2026-11-29T10:02:00", "C harp")
    again, torn_again = read_kept(path)
    assert again[:-1] == kept
    assert again[-1].off_cents == 5.0
    assert torn_again == torn
    assert path.read_bytes().startswith(data[:-cut])


def test_lines_that_are_none_of_ours_are_counted_and_stay(tmp_path: Path) -> None:
    """Also text that is no UTF-8."""
    path = tmp_path / "me.jsonl"
    strange = b'hello\n[1, 2]\n{"format": 1}\n\xff\xfe\n'
    path.write_bytes(strange)
    keep(path, attempt(), "2026-11-29T10:00:00", "C harp")
    kept, torn = read_kept(path)
    assert (len(kept), torn) == (1, 4)
    assert path.read_bytes().startswith(strange)


def test_what_is_no_plain_file_is_refused(tmp_path: Path) -> None:
    """A pipe that nobody writes to would be waited for, and /dev/zero read without end."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path in (pipe, Path("/dev/zero")):
        with pytest.raises(UserError, match=r"is no plain file\. Choose another with --out\."):
            read_kept(path)


def test_a_newer_format_is_refused(tmp_path: Path) -> None:
    """With file, line and what to do."""
    path = tmp_path / "me.jsonl"
    path.write_text('{"format": 2}\n', "utf-8")
    with pytest.raises(UserError, match=r"me\.jsonl, line 1: format 2 of a newer reedwire.*Update reedwire"):
        read_kept(path)


def test_a_folder_in_the_way_is_a_user_error(tmp_path: Path) -> None:
    """Neither read nor written, and told with what to do."""
    with pytest.raises(UserError, match=r"cannot be read.*--out"):
        read_kept(tmp_path)
    with pytest.raises(UserError, match=r"cannot be written.*--out"):
        keep(tmp_path, attempt(), "2026-11-29T10:00:00", "C harp")


def test_the_file_lies_in_the_data_folder() -> None:
    """XDG Base Directory Specification: a relative $XDG_DATA_HOME is to be ignored."""
    assert player_path("Ann Lee", {"XDG_DATA_HOME": "/data"}, "linux") == Path("/data/reedwire/drill/Ann Lee.jsonl")
    home = player_path("me", {"XDG_DATA_HOME": "data"}, "linux")
    assert home == Path.home() / ".local" / "share" / "reedwire" / "drill" / "me.jsonl"
    assert "Application Support" in str(player_path("me", {}, "darwin"))


def test_a_name_in_any_script_is_one_however_it_is_typed() -> None:
    """Composed or with accents of their own, as some keyboards and file systems have them (Unicode Annex 15)."""
    assert player_path("J\u00fcrgen") == player_path("Ju\u0308rgen")
    assert player_path(" Ann ") == player_path("Ann")
    # Devanagari writes most vowels as marks (The Unicode Standard, 12.1).
    assert player_path("\u092e\u0940\u0930\u093e").stem == "\u092e\u0940\u0930\u093e"


def test_what_is_kept_is_found_under_either_form(tmp_path: Path) -> None:
    """A file system may have taken the name apart, as that of older Macs does; what is kept later goes there too."""
    environment = {"XDG_DATA_HOME": str(tmp_path)}
    folder = player_path("me", environment, "linux").parent
    folder.mkdir(parents=True)
    apart = folder / "Ju\u0308rgen.jsonl"
    keep(apart, attempt(), "2026-11-29T10:00:00", "C harp")
    for typed in ("J\u00fcrgen", "Ju\u0308rgen"):
        assert player_path(typed, environment, "linux") == apart
    assert player_path("Jurgen", environment, "linux") == folder / "Jurgen.jsonl"
    require_player("J\u00fcrgen", environment, "linux")
    require_player("Ju\u0308rgen", environment, "linux")
    with pytest.raises(UserError, match="no player 'Ada' yet; known: J\u00fcrgen"):
        require_player("Ada", environment, "linux")


@pytest.mark.parametrize("name", ["", "../me", "a/b", ".hidden", "x" * 41, "a\nb", "\u0308a", "a\u202eb"])
def test_a_name_that_no_file_should_have_is_refused(name: str) -> None:
    """Nothing leads out of the folder."""
    with pytest.raises(UserError, match="Player"):
        player_path(name)
