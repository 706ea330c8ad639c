"""``take.yaml``: written, read back, and refused when newer."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from bridge.base.errors import UserError
from bridge.takes.take_yaml import FORMAT, TakeFacts, read_take_yaml, write_take_yaml


def test_what_is_written_is_read_back(tmp_path: Path) -> None:
    """Format first, then source, harp, settings and versions, words in UTF-8."""
    path = tmp_path / "take.yaml"
    facts = TakeFacts("Übung.m4a", {"key": "Bb", "a4_hz": 442.0}, {"send": {"strength": 1.0}}, {"reedwire": "0.1.0"})
    write_take_yaml(path, facts)
    assert read_take_yaml(path) == {
        "format": 1,
        "source": "Übung.m4a",
        "harp": {"key": "Bb", "a4_hz": 442.0},
        "settings": {"send": {"strength": 1.0}},
        "versions": {"reedwire": "0.1.0"},
    }
    text = path.read_text(encoding="utf-8")
    assert text.startswith("format: 1\n")
    assert "Übung" in text
    assert yaml.safe_load(text) == read_take_yaml(path)


def test_what_was_left_out_is_kept_and_else_no_key_is_written(tmp_path: Path) -> None:
    """The spans come back as they were; a take from which nothing was left out says nothing of it."""
    path = tmp_path / "take.yaml"
    span = {"start_s": 3.2, "end_s": 5.8, "what": "a voice"}
    write_take_yaml(path, TakeFacts("lesson.wav", {}, {}, left_out=[span]))
    assert read_take_yaml(path)["left_out"] == [span]
    write_take_yaml(path, TakeFacts("lesson.wav", {}, {}))
    assert "left_out" not in read_take_yaml(path)


def test_a_newer_format_is_refused_with_a_clear_word(tmp_path: Path) -> None:
    """The message names the file, both formats and what to do."""
    path = tmp_path / "take.yaml"
    path.write_text(f"format: {FORMAT + 1}\n")
    with pytest.raises(UserError, match=r"take\.yaml:1: this take has format 2.*up to 1.*newer reedwire"):
        read_take_yaml(path)


@pytest.mark.parametrize("text", ["", "format: one", "format: true", "format: 0", "harp: {}"])
def test_what_is_no_take_is_refused(tmp_path: Path, text: str) -> None:
    """A file without a format number is no take."""
    path = tmp_path / "take.yaml"
    path.write_text(text)
    with pytest.raises(UserError, match="Is this a take"):
        read_take_yaml(path)
