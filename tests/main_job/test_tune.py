"""``reedwire tune`` on a sampled harmonica whose tuning is known, from the sound to the harp's file and back.

The tuning is the 7-limit table of O. Hansson, Theory of harmonica tuning (2004-06), 8B, at A4 = 443 Hz.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
import yaml

from bridge.base.yaml_file import read_yaml
from bridge.harp.harp import Harp
from bridge.harp.harp_file import HarpFile, harp_from_file, read_harp_file
from bridge.harp.layout import RICHTER
from bridge.quantise.settings import QuantiseSettings
from bridge.quantise.third import blue_zones, depth
from cli.commands import run_here
from sounds.praat import settled_hz
from sounds.sampled import RATE
from sounds.tuned import SEVEN_LIMIT, Straight, equal_hz, midi_of, soft_and_hard, tuned

A4_HZ = 443.0
CROSS = ("draw 2", "draw 3", "draw 4")


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def tuned_file(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    notes: Sequence[Straight],
    *words: str,
    key: str = "C",
) -> HarpFile:
    """What ``reedwire tune`` writes after hearing these notes of a harp in ``key``."""
    soundfile.write("notes.wav", tuned(notes, key, A4_HZ), RATE, subtype="FLOAT")
    status, out, err = run_here(capsys, monkeypatch, "tune", "--file", "notes.wav", "--harp", key, *words)
    assert (status, err) == (0, ""), out
    assert "Written to my-harp.yaml" in out
    return read_harp_file(read_yaml(Path("my-harp.yaml")).data)


@pytest.mark.parametrize(
    ("key", "fall_cents", "words"),
    [("C", 0.0, []), ("low-F", 8.0, []), ("D", 8.0, ["--set", "harp.temperament=just-7-limit", "--a4", "442"])],
)
def test_a4_and_each_reed_are_recovered(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    key: str,
    fall_cents: float,
    words: list[str],
) -> None:
    """A4 within 0.2 Hz, each reed within 1.5 cents, the fall with breath within 1 cent, whatever is set."""
    found = tuned_file(capsys, monkeypatch, soft_and_hard(*CROSS, fall_cents=fall_cents), *words, key=key)
    assert found.key == key
    assert found.a4_hz == pytest.approx(A4_HZ, abs=0.2)
    assert found.reeds.keys() == set(CROSS)
    for reed, heard in found.reeds.items():
        hz = equal_hz(midi_of(reed, key), found.a4_hz) * 2.0 ** (heard.offset_cents / 1200.0)
        truth = equal_hz(midi_of(reed, key), A4_HZ) * 2.0 ** (SEVEN_LIMIT[reed] / 1200.0)
        assert 1200.0 * np.log2(hz / truth) == pytest.approx(0.0, abs=1.5)
        assert heard.offset_cents == pytest.approx(SEVEN_LIMIT[reed], abs=1.5)
        assert heard.spread_cents is not None
        assert heard.spread_cents < 2.0
    assert found.breath is not None
    assert found.breath.fall_cents == pytest.approx(fall_cents, abs=1.0)
    assert found.breath.hard_db - found.breath.soft_db == pytest.approx(12.0, abs=1.0)


@pytest.mark.parametrize(("position", "reeds"), [("1", ("blow 1", "blow 2", "blow 3")), ("12", ("draw 5", "draw 6"))])
def test_other_positions_ask_for_their_own_reeds(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, position: str, reeds: tuple[str, ...]
) -> None:
    """First position by its blow reeds; twelfth by draw 5, draw 6 and the note of blow 7."""
    every = (*reeds, *(["blow 7"] if position == "12" else []))
    found = tuned_file(capsys, monkeypatch, soft_and_hard(*every), "--position", position)
    assert found.reeds.keys() == set(every)
    offsets = [heard.offset_cents - SEVEN_LIMIT[reed] for reed, heard in found.reeds.items()]
    assert np.ptp(offsets) <= 1.5


def test_any_other_reed_joins_and_tells_the_temperament(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Draw 5 tells the 7-limit from the others, though it was played only once; unheard reeds then follow it."""
    found = tuned_file(capsys, monkeypatch, [*soft_and_hard(*CROSS, fall_cents=6.0), Straight("draw 5", -6.0)])
    assert found.temperament == "just-7-limit"
    assert found.reeds["draw 5"].offset_cents == pytest.approx(SEVEN_LIMIT["draw 5"], abs=1.5)
    assert found.a4_hz == pytest.approx(A4_HZ, abs=0.2)


def test_a_straight_third_is_no_longer_taken_for_bent(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Depth 0.00 +/- 0.03 with the harp's file, above 0.1 without; third and root as Praat hears them."""
    found = tuned_file(capsys, monkeypatch, soft_and_hard(*CROSS, fall_cents=8.0))
    harp = harp_from_file(found, "cross", RICHTER)
    third_hz = heard_by_praat("draw 3")
    assert abs(third_depth(third_hz, harp, straight=harp.straight_third_cents())) <= 0.03
    plain = replace(harp, a4_hz=A4_HZ, reeds=())
    assert plain.root_hz == pytest.approx(equal_hz(midi_of("draw 2", "C"), A4_HZ))
    assert third_depth(third_hz, plain, straight=400.0) > 0.1


def heard_by_praat(reed: str) -> float:
    """Pitch in Hz of that reed of the C harp, played between soft and hard."""
    sound = tuned([Straight(reed)], "C", A4_HZ)
    hz = equal_hz(midi_of(reed, "C"), A4_HZ)
    return settled_hz(sound, RATE, 1.2, 2.2, hz / 1.35, hz * 1.35)


def third_depth(hz: float, harp: Harp, *, straight: float) -> float:
    """Depth of a third at that pitch over the harp's root when the straight third lies there."""
    zone = replace(blue_zones(QuantiseSettings())["3"], straight=straight)
    return depth(1200.0 * float(np.log2(hz / harp.root_hz)), zone)


def test_the_file_is_small_and_plain(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """What it must hold, by its names, read as plain YAML."""
    tuned_file(capsys, monkeypatch, soft_and_hard(*CROSS))
    text = Path("my-harp.yaml").read_text(encoding="utf-8")
    plain = yaml.safe_load(text)
    assert list(plain) == ["format", "date", "key", "layout", "a4_hz", "temperament", "reeds", "breath"]
    assert plain["reeds"]["draw 2"].keys() == {"offset_cents", "spread_cents"}
    assert len(text.splitlines()) < 20
