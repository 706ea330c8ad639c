"""Lines for a terminal: words and settings stay whole; elsewhere nothing is changed."""

from __future__ import annotations

import io

import pytest

from bridge.cli.to_width import to_width

TEXT = "Set the gate, or the room holds notes: --set follow.gate.open_db=-46.0 --set follow.gate.close_db=-52.0"


class Terminal(io.StringIO):
    """A stream that is a terminal."""

    def isatty(self) -> bool:
        """Say so."""
        return True


@pytest.mark.parametrize("columns", [40, 57, 80])
def test_words_stay_whole_on_a_terminal(monkeypatch: pytest.MonkeyPatch, columns: int) -> None:
    """No line is wider, no word is cut, and no setting is torn from its option; a line of one's own stays one."""
    monkeypatch.setenv("COLUMNS", str(columns))
    lines = to_width(f"{TEXT}\nA second line.", Terminal()).split("\n")
    assert max(map(len, lines)) <= columns
    assert lines[-1] == "A second line."
    assert " ".join(lines[:-1]) == TEXT
    assert not any(line.endswith("--set") for line in lines)


def test_in_a_pipe_it_stays_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who reads it there breaks lines as they like."""
    monkeypatch.setenv("COLUMNS", "40")
    assert to_width(TEXT, io.StringIO()) == TEXT
