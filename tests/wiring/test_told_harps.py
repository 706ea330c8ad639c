"""The harps of a ``take.yaml``: slips of the hand are refused with their line, and nothing is made by them."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.base.errors import ManyFaultsError, UserError
from bridge.wiring.opening import opened_take
from bridge.wiring.rebuilding import rebuild_take
from bridge.wiring.recovering import recover_take
from cli.commands import run_here
from wiring.harp_files import harp_file
from wiring.made_takes import content, make_take


def slip(path: Path, old: str, new: str) -> Path:
    """A take with one line of its ``take.yaml`` written otherwise."""
    text = (path / "take.yaml").read_text(encoding="utf-8")
    assert old in text
    (path / "take.yaml").write_text(text.replace(old, new, 1), encoding="utf-8")
    return path


@pytest.fixture
def take(tmp_path: Path) -> Path:
    """The made-up phrase, rebuilt once."""
    path = make_take(tmp_path / "phrase", sound_s=None).folder.path
    rebuild_take(path, pytest.fail)
    return path


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        ("  key: C", "  key: H", r"take\.yaml:4: harp\.key: found 'H', allowed: .*low-C.*, G, Ab, A"),
        ("  key: C", "  key: auto", r"take\.yaml:4: harp\.key: found 'auto', allowed: .*low-C"),
        ("  position: 2", "  position: 22", r"take\.yaml:5: harp\.position: found 22, allowed: 1 to 12, or first"),
        ("  a4_hz: 440.0", "  a4_hz: 44", r"take\.yaml:6: harp\.a4_hz: found 44, allowed: a number from 400.0 to 480"),
        ("  layout: richter", "  layout: richer", r"take\.yaml:7: harp\.layout: found 'richer', allowed: richter, "),
        ("  temperament: equal", "  temperament: even", r"take\.yaml:8: harp\.temperament: found 'even', allowed: "),
        ("  position: 2\n", "", r"take\.yaml:3: harp\.position: found None, allowed: a value"),
        (
            "settings:",
            "harp_changes: A\nsettings:",
            r"take\.yaml:10: harp_changes: found 'A', allowed: a list of harps",
        ),
        ("settings:", "harp_changes:\n- key: A\nsettings:", r":11: harp_changes\.1\.time_s: found None, allowed: sec"),
        ("settings:", "harp_changes:\n- A\nsettings:", r":11: harp_changes\.1: found 'A', allowed: these below it"),
    ],
)
def test_a_slip_is_refused_with_its_line(take: Path, old: str, new: str, complaint: str) -> None:
    """File, line, what was found and what is allowed, in our own words; every file stays as it was."""
    before = content(slip(take, old, new))
    with pytest.raises(UserError, match=complaint) as caught:
        rebuild_take(take, pytest.fail)
    assert not {"pydantic", "http", "Input should"} & set(str(caught.value).split())
    assert content(take) == before


def test_all_slips_are_told_at_once(
    take: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Those of the harp beside those of the tempo, a line each; status 2."""
    slip(slip(take, "  key: C", "  key: H"), "  position: 2", "  position: 22")
    slip(take, "settings:", "tempo:\n  quarters_per_minute: 9600\nsettings:")
    before = content(take)
    status, out, err = run_here(capsys, monkeypatch, "rebuild", str(take))
    assert (status, out) == (2, "")
    lines = err.splitlines()
    assert [line.split(": ")[2] for line in lines] == ["harp.key", "harp.position", "tempo.quarters_per_minute"]
    assert content(take) == before


def test_nothing_is_recovered_by_a_slip(take: Path) -> None:
    """A table that is gone is not put back first."""
    slip(take, "  key: C", "  key: H")
    (take / "played").mkdir()
    (take / "notes.csv").rename(take / "played" / "notes.csv")
    with pytest.raises(UserError, match=r"harp\.key"):
        recover_take(take, pytest.fail)
    assert not (take / "notes.csv").exists()


def test_a_harp_that_was_measured_is_checked_as_well(tmp_path: Path) -> None:
    """What came from a harp file stands in the take, and may be mistyped there."""
    take = make_take(tmp_path / "phrase", sound_s=None, harp={"file": harp_file(tmp_path)}).folder.path
    text = (take / "take.yaml").read_text(encoding="utf-8")
    slip(slip(take, "  key: ", "  key: H"), "  position: 2", "  position: 22")
    with pytest.raises(UserError, match=r"take\.yaml:4: harp\.key: found 'H.', allowed: ") as caught:
        opened_take(take, pytest.fail)
    assert not isinstance(caught.value, ManyFaultsError)
    (take / "take.yaml").write_text(text, encoding="utf-8")
    slip(take, "  position: 2", "  position: 22")
    with pytest.raises(UserError, match=r"take\.yaml:5: harp\.position: found 22, allowed: 1 to 12, or first"):
        opened_take(take, pytest.fail)
