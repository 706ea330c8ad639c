"""A set of harps: read from the settings, found by place, name and neighbour, and told of in a take."""

from __future__ import annotations

import pickle
from contextlib import suppress
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.errors import UserError
from bridge.harp.settings import HarpSettings
from bridge.wiring.harps import HarpSet, harp_in_hand, harp_set
from wiring.harp_files import MINE, harp_file

SET = harp_set(HarpSettings(harps=("C", "A", "low-D")))


def _found(wanted: str, now: str = "1") -> str:
    """Key of the harp that is found while the one at place ``now`` is in hand."""
    return SET.find(wanted, SET.find(now, SET.harps[0])).harp.key


@pytest.mark.parametrize(
    ("wanted", "now", "key"),
    [
        *(("1", "1", "C"), ("2", "1", "A"), ("3", "1", "low-D"), (" 2 ", "3", "A")),
        *(("next", "1", "A"), ("next", "3", "C"), ("previous", "1", "low-D"), ("Previous", "3", "A")),
        *(("a", "1", "A"), ("LOW_D", "1", "low-D"), ("Bb", "1", "Bb"), ("a#", "1", "Bb")),
        *(("next", "Bb", "C"), ("previous", "Bb", "low-D")),
    ],
)
def test_a_harp_is_found_by_place_neighbour_or_name(wanted: str, now: str, key: str) -> None:
    """Round and round from either end, and from a harp outside the set to its first or last."""
    assert _found(wanted, now) == key


@pytest.mark.parametrize("wanted", ["0", "4", "H", "", "other.yaml", "-1"])
def test_a_harp_that_does_not_exist_is_told(wanted: str) -> None:
    """The answer says what there is."""
    with pytest.raises(UserError, match=r"the set has 3|Keys, from the lowest|none of the set"):
        _found(wanted)


@given(st.text(max_size=8))
def test_any_word_finds_a_harp_or_is_told(wanted: str) -> None:
    """Whatever comes in by OSC, nothing but UserError is raised."""
    with suppress(UserError):
        assert _found(wanted)


@pytest.mark.parametrize("wanted", ["A third 443.5", "a 3 443.50", "A slant 443.5"])
def test_a_key_may_come_with_its_position_and_a4(wanted: str) -> None:
    """Layout and temperament are those of the set's harp in that key."""
    found = SET.find(wanted, SET.harps[0])
    assert (found.harp.key, found.harp.position, found.harp.a4_hz) == ("A", 3, 443.5)
    assert SET.place(found) == 0
    assert SET.find(found.word, found).facts() == found.facts()


@pytest.mark.parametrize("wanted", ["C 442", "C 2 300", "H 2 442", "C 13 442", "C 2 nan", "low 2 442"])
def test_a_key_with_a_wrong_position_or_a4_is_told(wanted: str) -> None:
    """As any other word that names no harp."""
    with pytest.raises(UserError, match=r"Keys, from the lowest|Positions: 1 to 12"):
        SET.find(wanted, SET.harps[0])


def test_a_harp_that_was_tuned_keeps_its_place() -> None:
    """The set then holds it as it is now, and the others as they were."""
    tuned = SET.harps[1].at_a4(443.217)
    now = SET.with_other(SET.harps[1], tuned)
    assert (now.place(tuned), tuned.harp.a4_hz) == (2, 443.22)
    assert now.harps[::2] == SET.harps[::2]
    assert SET.with_other(tuned, tuned).harps == SET.harps


def test_two_harps_in_one_key_are_two_places() -> None:
    """Going on from one to the next passes both and comes back."""
    twice = harp_set(HarpSettings(harps=("C", "C", "A")))
    held, places = twice.harps[0], []
    for _ in range(4):
        held = twice.find("next", held)
        places.append(twice.place(held))
    assert places == [2, 3, 1, 2]


def test_a_harp_file_is_the_harp_in_hand(tmp_path: Path) -> None:
    """Key, A4, temperament and reeds are the file's, the position is that of the settings."""
    (held,) = harp_set(HarpSettings(file=harp_file(tmp_path), position=1)).harps
    assert (held.harp.key, held.harp.position, held.harp.a4_hz) == ("A", 1, 442.3)
    assert held.harp.temperament == "just-7-limit"
    offsets = {(reed.hole, reed.air): reed.offset_cents for reed in held.harp.reeds if reed.measured}
    assert offsets == {(2, "draw"): 1.5, (3, "draw"): -12.9}
    assert held.playing_db == (-38.0, -14.0)
    assert held.name == "A harp, first position, as in mine.yaml"
    cross = harp_in_hand(HarpSettings(file=harp_file(tmp_path)))
    assert cross.straight_third_cents() == pytest.approx(400.0 - 14.4)


def test_keys_of_a_set_are_as_the_settings_say_and_files_as_they_are(tmp_path: Path) -> None:
    """A4 and temperament of the settings are those of the harps named by key."""
    settings = HarpSettings(harps=(harp_file(tmp_path), "C"), a4_hz=443.0, temperament="just-5-limit")
    mine, plain = (held.harp for held in harp_set(settings).harps)
    assert (mine.a4_hz, mine.temperament) == (442.3, "just-7-limit")
    assert (plain.key, plain.a4_hz, plain.temperament) == ("C", 443.0, "just-5-limit")
    held = harp_set(settings)
    for wanted in ("mine.yaml", str(tmp_path / "mine.yaml"), "A", "1"):
        assert held.find(wanted, held.harps[1]) is held.harps[0]


def test_a_take_is_told_what_the_harp_was(tmp_path: Path) -> None:
    """Plain data that YAML keeps: the harp, where its third lies, and what was measured on it."""
    path = harp_file(tmp_path)
    facts = harp_set(HarpSettings(file=path)).harps[0].facts()
    assert yaml.safe_load(yaml.safe_dump(facts)) == facts
    assert facts == {
        "key": "A",
        "position": 2,
        "a4_hz": 442.3,
        "layout": "richter",
        "temperament": "just-7-limit",
        "straight_third_cents": 385.6,
        "file": path,
        "date": "2026-11-25",
        "reeds": {"draw 2": {"offset_cents": 1.5}, "draw 3": {"offset_cents": -12.9, "spread_cents": 0.4}},
        "breath": {"soft_db": -38.0, "hard_db": -14.0, "fall_cents": 7.5},
    }
    plain = harp_set(HarpSettings()).harps[0].facts()
    assert plain["straight_third_cents"] == 400.0
    assert "file" not in plain


def test_a_layout_file_lies_beside_the_harp_file(tmp_path: Path) -> None:
    """Named in the harp file it is found there, wherever the program runs."""
    (tmp_path / "odd.yaml").write_text("blow: [0, 5, 7]\ndraw: [2, 9, 11]\n", encoding="utf-8")
    harp = harp_in_hand(HarpSettings(file=harp_file(tmp_path, text=MINE.replace("key: A", "key: A\nlayout: odd.yaml"))))
    assert [reed.semitones for reed in harp.reeds] == [0, 2, 5, 9, 7, 11]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("key: A", "key: H", r"mine\.yaml:3: key: found 'H'"),
        ("key: A", "key: A\nlayout: spiral", r"mine\.yaml:4: layout: There is no layout 'spiral'"),
        ("draw 3", "draw 11", r"mine\.yaml: The harp file has a reed 'draw 11'"),
        ("format: 1", "format: 2", "Install a newer reedwire"),
        (MINE, "quantise: {}\n", "allowed: 1, a harp file"),
    ],
)
def test_a_wrong_harp_file_is_told_with_its_place(tmp_path: Path, old: str, new: str, said: str) -> None:
    """File, line, what was found and what is allowed."""
    with pytest.raises(UserError, match=said):
        harp_set(HarpSettings(file=harp_file(tmp_path, text=MINE.replace(old, new))))


def test_a_missing_harp_file_is_told() -> None:
    """Its name is repeated."""
    with pytest.raises(UserError, match=r"nothere\.yaml: cannot be read"):
        harp_set(HarpSettings(harps=("C", "nothere.yaml")))


def test_a_set_goes_to_another_process_as_it_is(tmp_path: Path) -> None:
    """The process that writes the take finds the same harps by the same words, whatever became of the file."""
    path = Path(harp_file(tmp_path))
    sent = harp_set(HarpSettings(harps=("C", str(path))))
    path.unlink()
    come: HarpSet = pickle.loads(pickle.dumps(sent))  # noqa: S301 -- our own bytes
    assert come.find("2", come.harps[0]).facts() == sent.harps[1].facts()
    assert come.place(come.find("A", come.harps[0])) == 2
