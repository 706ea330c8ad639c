"""Of key, harp file and set the one that was said last counts; two at once are refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.base.errors import UserError
from bridge.wiring.harps import harp_set
from bridge.wiring.settings import Settings, load_settings
from wiring.harp_files import harp_file


def _keys(settings: Settings) -> list[str]:
    return [held.harp.key for held in harp_set(settings.harp).harps]


@pytest.mark.parametrize(
    ("preset", "flags", "keys"),
    [
        ("harp: {key: Bb}\n", {}, ["Bb"]),
        ("harp: {key: Bb, a4_hz: 443}\n", {"harp.file": "mine.yaml"}, ["A"]),
        ("harp: {file: mine.yaml}\n", {}, ["A"]),
        ("harp: {file: mine.yaml}\n", {"harp.key": "Bb"}, ["Bb"]),
        ("harp: {file: mine.yaml}\n", {"harp.harps": "G, mine.yaml"}, ["G", "A"]),
        ("harp: {harps: [C, G]}\n", {"harp.file": "mine.yaml"}, ["A"]),
        ("harp: {harps: [C, G]}\n", {"harp.key": "F"}, ["F"]),
        ("harp: {harps: [C, G]}\n", {"harp.a4_hz": 443.0}, ["C", "G"]),
        ("harp: {file: null, harps: []}\n", {}, ["C"]),
    ],
)
def test_what_was_said_last_counts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, preset: str, flags: dict[str, object], keys: list[str]
) -> None:
    """The command line wins over a preset, a preset over the defaults, whichever way they name the harp."""
    monkeypatch.chdir(tmp_path)
    harp_file(tmp_path)
    (tmp_path / "stage.yaml").write_text(preset, encoding="utf-8")
    assert _keys(load_settings("stage.yaml", (), flags)) == keys


@pytest.mark.parametrize(
    ("preset", "flags", "sets", "said"),
    [
        (
            "",
            {"harp.file": "mine.yaml", "harp.key": "C"},
            [],
            r"harp\.file \(--harp-file\) was given .* harp\.key \(--h",
        ),
        ("", {"harp.file": "mine.yaml", "harp.a4_hz": 443}, [], r"harp\.a4_hz \(--a4\)\. A harp file says that itself"),
        ("", {"harp.file": "mine.yaml"}, ["harp.temperament=equal"], r"together with harp\.temperament\."),
        ("", {"harp.harps": "C,A", "harp.key": "C"}, [], r"harp\.harps \(--harps\) was given together with harp\.key"),
        ("", {"harp.harps": "C,A", "harp.file": "mine.yaml"}, [], r"harp\.harps \(--harps\) was given together with h"),
        ("harp: {file: mine.yaml, key: C}\n", {}, [], r"^stage\.yaml:1: harp\.file"),
        ("harp: {file: mine.yaml}\n", {"harp.a4_hz": 443}, [], r"harp\.a4_hz \(--a4\)"),
        ("harp: {file: mine.yaml}\n", {}, ["harp.layout=country"], r"together with harp\.layout"),
    ],
)
def test_two_ways_at_once_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, preset: str, flags: dict[str, object], sets: list[str], said: str
) -> None:
    """Both are named with their options, and what to do."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "stage.yaml").write_text(preset, encoding="utf-8")
    with pytest.raises(UserError, match=said):
        load_settings("stage.yaml", sets, flags)


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("harp.harps", "C,H", "allowed: low-C, low-Db"),
        ("harp.harps", "C,,A", "allowed: low-C, low-Db"),
        ("harp.harps", 3, "a list"),
        ("harp.file", "A", "a harp file, which ends in .yaml"),
    ],
)
def test_a_wrong_name_of_a_harp_is_told(key: str, value: object, said: str) -> None:
    """With the setting, what was found and what is allowed."""
    with pytest.raises(UserError, match=f"^the command line: {key}: found .*{said}"):
        load_settings(flags={key: value})
