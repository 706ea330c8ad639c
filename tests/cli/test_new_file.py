"""The file that ``check --save`` and ``tune --out`` will write is looked at before anything is heard, alike by both."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.base.errors import UserError
from bridge.cli.new_file import may_write
from cli.commands import run_here

#: Each command that writes a file the user names, up to that name.
WRITERS = (("check", "--save"), ("tune", "--out"))
OLD = "key: A\n"


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("there.yaml").write_text(OLD, encoding="utf-8")
    Path("folder.yaml").mkdir()


@pytest.mark.parametrize("writer", WRITERS)
@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("mine.txt", "mine.txt: {} needs the ending .yaml."),
        ("no/such/mine.yaml", "no/such/mine.yaml: there is no folder no/such. Make it, or choose another."),
        ("folder.yaml", "folder.yaml: is a folder. Choose the name of a file."),
        # Not even root may make a file there (proc(5)).
        ("/proc/mine.yaml", "/proc/mine.yaml: nothing can be written there ("),
        ("there.yaml", "is there already, and was not touched. Choose another name, or say --overwrite."),
    ],
)
def test_both_commands_refuse_alike(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    writer: tuple[str, str],
    name: str,
    said: str,
) -> None:
    """Status 2 and one line before anything is heard; what is there stays, and nothing else is left."""
    command, option = writer
    status, out, err = run_here(capsys, monkeypatch, command, "--file", "missing.wav", option, name)
    assert (status, out) == (2, "")
    assert err.startswith(f"reedwire: {option} ")
    assert said.format("a preset" if command == "check" else "the file of a harp") in err
    assert len(err.splitlines()) == 1
    assert Path("there.yaml").read_text(encoding="utf-8") == OLD
    assert sorted(path.name for path in Path().iterdir()) == ["folder.yaml", "there.yaml"]


@pytest.mark.parametrize("writer", WRITERS)
def test_both_commands_take_overwrite(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, writer: tuple[str, str]
) -> None:
    """With ``--overwrite`` nobody is asked: it goes on to the recording, which is missing; the old file stays."""
    command, option = writer
    words = (command, "--file", "missing.wav", option, "there.yaml", "--overwrite")
    status, _, err = run_here(capsys, monkeypatch, *words)
    assert (status, err) == (2, "reedwire: missing.wav: does not exist. Check the name and the folder.\n")
    assert Path("there.yaml").read_text(encoding="utf-8") == OLD


@pytest.mark.parametrize(("answer", "may"), [(True, True), (False, False)])
def test_at_a_terminal_the_user_is_asked(monkeypatch: pytest.MonkeyPatch, *, answer: bool, may: bool) -> None:
    """Yes goes on, no refuses; a new file needs no question."""
    asked: list[str] = []

    def confirm(question: str) -> bool:
        asked.append(question)
        return answer

    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr("typer.confirm", confirm)
    may_write(Path("new.yaml"), "--out", "the file of a harp", overwrite=False)
    assert asked == []
    if may:
        may_write(Path("there.yaml"), "--out", "the file of a harp", overwrite=False)
    else:
        with pytest.raises(UserError, match="was not touched"):
            may_write(Path("there.yaml"), "--out", "the file of a harp", overwrite=False)
    assert asked == ["there.yaml is there already. Write over it?"]
