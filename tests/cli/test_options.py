"""Wrong options are named as they were typed, and the overview of the commands is readable on 80 columns."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from cli.commands import run_here


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("play", "--harp", "H"), "--harp: found 'H', allowed: "),
        (("play", "--a4", "10"), "--a4: found "),
        (("play", "--harp-pedal", ""), "--harp-pedal: found '', allowed: "),
        (("check", "--set", "harp.key=H"), "--set harp.key=H: harp.key: found 'H', allowed: "),
    ],
)
def test_a_wrong_option_is_named_as_it_was_typed(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], said: str
) -> None:
    """Not by the setting it stands for, unless that was typed; status 2."""
    status, out, err = run_here(capsys, monkeypatch, *words)
    assert (status, out) == (2, "")
    assert err.startswith(f"reedwire: {said}")


def test_each_of_several_wrong_options_has_its_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """All are told, each by its name."""
    status, _, err = run_here(capsys, monkeypatch, "check", "--harp", "H", "--a4", "10")
    assert status == 2
    assert [line.split(": ")[:2] for line in err.splitlines()] == [["reedwire", "--harp"], ["reedwire", "--a4"]]


@pytest.mark.parametrize("words", [("--help",), ("sweep", "--help"), ("recover", "--help")])
def test_the_help_cuts_no_sentence_and_shows_no_types(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    """On a terminal 80 columns wide."""
    monkeypatch.setenv("COLUMNS", "80")
    status, out, _ = run_here(capsys, monkeypatch, *words)
    assert status == 0
    below = out.partition("\n")[2]
    assert max(map(len, below.splitlines())) <= 80
    assert not re.search(r"\.\.\.$|<str>|<list|<Path>", below, re.MULTILINE)


@pytest.mark.parametrize("command", [("transcribe", "solo.wav", "--out", "takes"), ("play", "--input", "demo")])
def test_a_bar_1_without_a_tempo_is_refused(
    command: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing would come of it."""
    monkeypatch.chdir(tmp_path)
    status, _, err = run_here(capsys, monkeypatch, *command, "--bar-1", "1.25")
    assert status == 2
    assert "--bar-1 has no effect where no tempo is known. Give --tempo N or --tempo auto as well." in " ".join(
        err.split()
    )
    assert not list(tmp_path.iterdir())


def test_an_option_is_not_to_be_given_as_null(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is allowed is told once, in words that can be typed."""
    monkeypatch.chdir(tmp_path)
    _, _, err = run_here(capsys, monkeypatch, "transcribe", "solo.wav", "--out", "takes", "--tempo", "0")
    assert " ".join(err.split()) == (
        "reedwire: --tempo: found '0', allowed: auto or a number from 20.0 to 400.0 "
        "(quarters a minute; auto = estimated from where notes begin)"
    )
