"""The harp file: what is read is what was written, and every mistake in it is told."""

from __future__ import annotations

from math import log2
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.errors import ManyFaultsError, SettingError, UserError
from bridge.base.yaml_file import parse_yaml
from bridge.harp.harp_file import HarpFile, harp_from_file, plain_harp_file, read_harp_file
from bridge.harp.keys import KEYS
from bridge.harp.layout import RICHTER
from bridge.harp.temperaments import TEMPERAMENTS

PLAIN = {
    "format": 1,
    "date": "2026-11-25",
    "key": "A",
    "layout": "richter",
    "a4_hz": 443.0,
    "temperament": "just-7-limit",
    "reeds": {"draw 2": {"offset_cents": 5.0, "spread_cents": 0.5}, "draw 3": {"offset_cents": -8.0}},
    "breath": {"soft_db": -38.0, "hard_db": -14.0, "fall_cents": 7.5},
}
_OFFSETS = st.floats(-100.0, 100.0)
_REEDS = st.dictionaries(
    st.builds("{} {}".format, st.sampled_from(["blow", "draw"]), st.integers(1, 10)),
    st.fixed_dictionaries({"offset_cents": _OFFSETS}, optional={"spread_cents": st.floats(0.0, 200.0)}),
)
_BREATH = st.fixed_dictionaries(
    {"soft_db": st.floats(-120.0, -60.0), "hard_db": st.floats(-59.0, 0.0), "fall_cents": _OFFSETS}
)
_FILES = st.fixed_dictionaries(
    {
        "format": st.just(1),
        "date": st.dates().map(lambda day: day.isoformat()),
        "key": st.sampled_from([key.name for key in KEYS]),
        "a4_hz": st.floats(400.0, 480.0),
    },
    optional={"temperament": st.sampled_from(TEMPERAMENTS), "reeds": _REEDS, "breath": _BREATH},
)


@given(plain=_FILES)
def test_what_is_written_reads_back_as_the_same(plain: dict[str, object]) -> None:
    """Through a mapping and through YAML text, whatever the file holds."""
    file = read_harp_file(plain)
    assert read_harp_file(plain_harp_file(file)) == file
    text = yaml.safe_dump(plain_harp_file(file), sort_keys=False)
    assert read_harp_file(parse_yaml(text, Path("mine.yaml")).data) == file


def test_a_written_file_holds_what_was_read_in_the_order_of_its_keys() -> None:
    """Nothing is added but the defaults, nothing lost."""
    assert plain_harp_file(read_harp_file(PLAIN)) == PLAIN
    assert list(plain_harp_file(read_harp_file(PLAIN))) == list(PLAIN)


def test_a_date_may_stand_without_quotes() -> None:
    """YAML makes a date of it, which is read as that day."""
    data = parse_yaml("format: 1\ndate: 2026-11-25\nkey: bb\na4_hz: 442\n", Path("mine.yaml")).data
    file = read_harp_file(data)
    assert (file.date, file.key, file.temperament) == ("2026-11-25", "Bb", "equal")


def test_the_harp_sounds_as_the_file_says() -> None:
    """Reeds that were heard lie where they were heard, the others where the temperament puts them.

    Root and third are the player's own: draw 2 at +5, draw 3 at -8 make a straight third of 387.
    """
    harp = harp_from_file(read_harp_file(PLAIN), "cross", RICHTER)
    hz = {(reed.hole, reed.air): reed.hz for reed in harp.reeds}
    root = 443.0 * 2.0 ** ((64 - 69) / 12)  # the cross root of an A harp is E4, MIDI note 64
    assert 1200.0 * log2(hz[2, "draw"] / root) == pytest.approx(5.0)
    assert 1200.0 * log2(hz[3, "draw"] / root) == pytest.approx(392.0)
    assert 1200.0 * log2(hz[5, "draw"] / root) == pytest.approx(1000.0 - 29.22, abs=0.01)  # 21/16 over the key
    assert harp.root_hz == pytest.approx(hz[2, "draw"])
    assert harp.straight_third_cents() == pytest.approx(387.0)


def test_a_measured_root_is_taken_before_a_lower_one() -> None:
    """In first position blow 4 was heard, blow 1 was not: the root comes from blow 4, an octave down."""
    plain = PLAIN | {"reeds": {"blow 4": {"offset_cents": 3.0}}}
    harp = harp_from_file(read_harp_file(plain), 1, RICHTER)
    assert harp.root_hz == pytest.approx(443.0 / 2.0 * 2.0 ** (3.0 / 1200.0))


def test_what_was_measured_stays_with_its_harp() -> None:
    """A harp of another key keeps A4 and temperament, not the offsets of this one's reeds."""
    other = harp_from_file(read_harp_file(PLAIN), 2, RICHTER).in_key("C")
    assert not any(reed.measured for reed in other.reeds)
    assert (other.a4_hz, other.temperament) == (443.0, "just-7-limit")


@pytest.mark.parametrize(
    ("change", "key", "found", "allowed"),
    [
        ({"key": "H"}, "key", "'H'", "low-C, low-Db"),
        ({"key": 5}, "key", "5", "a word"),
        ({"a4_hz": 300}, "a4_hz", "300", "a number from 400.0 to 480.0"),
        ({"a4_hz": float("nan")}, "a4_hz", "nan", "a number from 400.0 to 480.0"),
        ({"a4": 442}, "a4", "'a4'", "format, date, key, layout, a4_hz"),
        ({"temperament": "just"}, "temperament", "'just'", "'just-7-limit'"),
        ({"date": "yesterday"}, "date", "'yesterday'", "year-month-day"),
        ({"date": "2026-13-01"}, "date", "'2026-13-01'", "year-month-day"),
        ({"reeds": {"draw two": {"offset_cents": 1.0}}}, "reeds.draw two", "'draw two'", "such as 'draw 2'"),
        ({"reeds": {"draw 0": {"offset_cents": 1.0}}}, "reeds.draw 0", "'draw 0'", "such as 'draw 2'"),
        ({"reeds": {"draw 2": {"offset": 1.0, "offset_cents": 0}}}, "reeds.draw 2.offset", "'offset'", "spread_cents"),
        (
            {"reeds": {"draw 2": {"offset_cents": 101}}},
            "reeds.draw 2.offset_cents",
            "101",
            "a number from -100.0 to 100.0",
        ),
        ({"reeds": {"draw 2": {}}}, "reeds.draw 2.offset_cents", "None", "may not be left out"),
        ({"reeds": [1]}, "reeds", "[1]", "such as 'draw 2', each with offset_cents"),
        ({"breath": {"soft_db": -10, "hard_db": -20, "fall_cents": 5}}, "breath", "-20", "soft_db below hard_db"),
        ({"reeds": {"draw 2": 5}}, "reeds.draw 2", "5", "these keys below it: offset_cents, spread_cents"),
        ({"reeds": {"draw 2": {"offset_cents": "low"}}}, "reeds.draw 2.offset_cents", "'low'", "a number from -100.0"),
        ({"breath": 3}, "breath", "3", "these keys below it: soft_db"),
        ({"breath": {"loud_db": 1}}, "breath.loud_db", "'loud_db'", "soft_db, hard_db, fall_cents"),
        ({"format": 0}, "format", "0", "1, a harp file"),
        ({"format": "one"}, "format", "'one'", "1, a harp file"),
        ({"format": True}, "format", "True", "1, a harp file"),
    ],
)
def test_each_mistake_is_told_with_key_found_and_allowed(
    change: dict[str, object], key: str, found: str, allowed: str
) -> None:
    """The message names place, key, what stands there and what may."""
    errors: list[str] = []
    try:
        read_harp_file(PLAIN | change, lambda path: f"mine.yaml:{path[0]}")
    except ManyFaultsError as many:
        errors = [str(error) for error in many.errors]
    except SettingError as error:
        errors = [str(error)]
    (said,) = [line for line in errors if f": {key}: found " in line]
    assert said.startswith(f"mine.yaml:{key.partition('.')[0]}: ")
    assert found in said
    assert allowed in said.partition("allowed: ")[2]


def test_a_missing_key_is_told() -> None:
    """Key and A4 have no default: both are asked for, each on its line."""
    with pytest.raises(ManyFaultsError) as caught:
        read_harp_file({"format": 1, "date": "2026-11-25"})
    assert [str(error).partition(": found")[0] for error in caught.value.errors] == [
        "the harp file: key",
        "the harp file: a4_hz",
    ]


def test_a_newer_format_is_refused_with_what_to_do() -> None:
    """A file of a later program is not guessed at."""
    with pytest.raises(UserError, match=r"^here: this harp file has format 2, .* up to 1\. Install a newer reedwire"):
        read_harp_file(PLAIN | {"format": 2, "reed_table": []}, lambda _key: "here")


def test_a_reed_that_the_layout_lacks_is_told() -> None:
    """Hole 11 of a ten-hole harp: the message names the reed and the holes there are."""
    file = read_harp_file(PLAIN | {"reeds": {"blow 11": {"offset_cents": 0.0}}})
    with pytest.raises(UserError, match="'blow 11'; layout richter has holes 1 to 10"):
        harp_from_file(file, 2, RICHTER)


def test_every_key_is_described() -> None:
    """Each key says what it is."""
    assert all(field.description for field in HarpFile.model_fields.values())
