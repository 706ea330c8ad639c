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
        ("harp.harps", "C,H", "of which 'H' is none: low-C, low-Db"),
        ("harp.harps", "C,,A", "of which '' is none: low-C, low-Db"),
        ("harp.harps", 3, "a list"),
        ("harp.file", "A", "a harp file, which ends in .yaml"),
    ],
)
def test_a_wrong_name_of_a_harp_is_told(key: str, value: object, said: str) -> None:
    """With the setting, what was found and what is allowed."""
    with pytest.raises(UserError, match=f"^the command line: {key}: found .*{said}"):
        load_settings(flags={key: value})


@pytest.mark.parametrize(
    ("preset", "flags", "tune"),
    [
        ("", {"harp.tune": "auto"}, "auto"),
        ("harp: {a4_hz: 442}\n", {"harp.tune": "auto"}, "auto"),
        ("harp: {tune: auto}\n", {"harp.key": "Bb"}, "auto"),
        ("harp: {tune: auto}\n", {"harp.a4_hz": 443}, "as-set"),
        ("harp: {tune: auto}\n", {"harp.file": "mine.yaml"}, "as-set"),
        ("harp: {tune: auto}\n", {"harp.harps": "C,mine.yaml"}, "auto"),
    ],
)
def test_an_a4_that_was_said_later_is_not_looked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, preset: str, flags: dict[str, object], tune: str
) -> None:
    """``tune: auto`` begins at the A4 of a preset; an A4 or a harp file on the command line ends that of a preset."""
    monkeypatch.chdir(tmp_path)
    harp_file(tmp_path)
    (tmp_path / "stage.yaml").write_text(preset, encoding="utf-8")
    assert load_settings("stage.yaml", (), flags).harp.tune == tune


@pytest.mark.parametrize(
    ("preset", "flags", "said"),
    [
        ("", {"harp.tune": "auto", "harp.a4_hz": 443}, r"harp\.tune \(--tune\) was given together with harp\.a4_hz"),
        ("", {"harp.tune": "auto", "harp.file": "mine.yaml"}, r"\(--tune\) was given together with harp\.file"),
        ("harp: {file: mine.yaml}\n", {"harp.tune": "auto"}, r"\(--tune\) was given together with harp\.file"),
        ("harp: {tune: auto, a4_hz: 443}\n", {}, r"^stage\.yaml:1: harp\.tune"),
        ("", {"harp.key": "auto", "harp.position": "third"}, "finds key, position and A4 itself: leave --position out"),
        ("", {"harp.key": "auto", "harp.a4_hz": 442}, "leave --a4 out, or name the key"),
        ("", {"harp.key": "auto", "harp.file": "mine.yaml"}, "leave --harp-file out, or name the key"),
        ("harp: {key: auto}\n", {"harp.position": 3}, "leave --position out"),
        ("", {"harp.key": "auto", "harp.harps": "C,A"}, r"harp\.harps \(--harps\) was given together with harp\.key"),
    ],
)
def test_what_is_to_be_found_cannot_be_said_as_well(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, preset: str, flags: dict[str, object], said: str
) -> None:
    """One sentence names both, and what to do."""
    monkeypatch.chdir(tmp_path)
    harp_file(tmp_path)
    (tmp_path / "stage.yaml").write_text(preset, encoding="utf-8")
    with pytest.raises(UserError, match=said):
        load_settings("stage.yaml", (), flags)


def test_a_harp_to_be_found_stands_for_the_lowest() -> None:
    """What was said of position and A4 before does not count; the follower hears down to low C (C3, 130.81 Hz)."""
    settings = load_settings(sets=["harp.key=Auto"])
    (held,) = harp_set(settings.harp).harps
    assert held.sought
    assert held.name == "harp not known yet"
    assert held.facts()["sought"]
    assert held.harp.lowest_hz == pytest.approx(130.81, abs=0.01)


@pytest.mark.parametrize("drift", ["[[1, 440], [1, 441]]", "[[2, 440], [1, 441]]", "[[0, 300]]", "[[-1, 440]]"])
def test_a_drift_goes_forward_and_stays_with_harps(drift: str) -> None:
    """Seconds that do not rise, or no A4 of any harp, are told."""
    with pytest.raises(UserError, match=r"harp\.drift: found"):
        load_settings(sets=[f"harp.drift={drift}"])
