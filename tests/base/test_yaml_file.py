"""YAML with the line of every key, and plain words for what is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.errors import ManyFaultsError, UserError
from bridge.base.yaml_file import parse_value, parse_yaml, read_yaml

_FILE = Path("some.yaml")
_NAMES = st.text("abcdefgh_", min_size=1, max_size=6)
_PLAIN = st.one_of(st.integers(-9999, 9999), st.booleans(), st.text("abc xyz", max_size=8), st.none())
_TREES = st.recursive(_PLAIN, lambda inner: st.dictionaries(_NAMES, inner, max_size=4) | st.lists(inner, max_size=3))


def test_every_key_and_item_has_its_line() -> None:
    """Keys and list items are found by their path, each with the line it stands in, from 1."""
    file = parse_yaml("# first\na:\n  b: 1\n  c:\n    - x\n    - y: 2\n", _FILE)
    assert file.data == {"a": {"b": 1, "c": ["x", {"y": 2}]}}
    assert file.lines == {
        ("a",): 2,
        ("a", "b"): 3,
        ("a", "c"): 4,
        ("a", "c", 0): 5,
        ("a", "c", 1): 6,
        ("a", "c", 1, "y"): 6,
    }


def test_where_falls_back_to_what_lies_above() -> None:
    """The place of a key that the file does not have is that of the group it would belong to, else the file."""
    file = parse_yaml("\na:\n  b: 1\n", _FILE)
    assert file.where(("a", "b")) == "some.yaml:3"
    assert file.where(("a", "missing", "deeper")) == "some.yaml:2"
    assert file.where(("z",)) == "some.yaml"


def test_keys_stay_the_words_they_are() -> None:
    """A key that YAML 1.1 reads as a truth value or a number stays a word, such as the degree 5."""
    assert parse_yaml("on: 1\n5: 2\nno: 3\n", _FILE).data == {"on": 1, "5": 2, "no": 3}


@pytest.mark.parametrize("text", ["", "# nothing but a comment\n", "---\n"])
def test_an_empty_file_is_an_empty_mapping(text: str) -> None:
    """Nothing, a comment or a bare document mark say nothing, which is allowed, or are refused with the line."""
    if text == "---\n":
        with pytest.raises(UserError, match=r"some\.yaml:\d+: found"):
            parse_yaml(text, _FILE)
    else:
        assert parse_yaml(text, _FILE).data == {}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a: 1\nb: 2\na: 3\n", "some.yaml:3: a is given twice, first in line 1"),
        ("a:\n  x: 1\n  x: 1\n", "some.yaml:3: x is given twice"),
        ("a: [1, 2\nb: 3\n", "some.yaml:2: not valid YAML"),
        ("a: 1\n\tb: 2\n", "some.yaml:2: not valid YAML"),
        ("- 1\n- 2\n", "some.yaml:1: found a list"),
        ("just a word\n", "some.yaml:1: found the plain value"),
        ("a: &x\n  b: *x\n", "alias refers to the part it stands in"),
        ("? [1, 2]\n: 3\n", "some.yaml:1: found a list as a key"),
        ("a: 1\nb: \x07\n", "some.yaml:2: holds a character"),
        ("a: !!python/object:os.system x\n", "not valid YAML"),
        ("a: 2026-99-99\n", "value that cannot be read"),
        ("a: 1\n---\nb: 2\n", "not valid YAML"),
    ],
)
def test_what_is_wrong_is_said_with_its_line(text: str, said: str) -> None:
    """A broken file is refused in one message that names file and line."""
    with pytest.raises(UserError) as caught:
        parse_yaml(text, _FILE)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


def test_every_key_that_is_wrong_is_told_in_the_order_of_the_lines() -> None:
    """Two keys given twice, an odd key and an alias to itself are told together, first line first."""
    text = "a: &x\n  b: *x\nc: 1\n? [1]\n: 3\nd:\n  e: 1\n  e: 2\nc: 2\n"
    with pytest.raises(ManyFaultsError) as caught:
        parse_yaml(text, _FILE)
    said = [str(error) for error in caught.value.errors]
    assert [line.split(": ")[0] for line in said] == [f"some.yaml:{number}" for number in (1, 4, 8, 9)]
    assert "alias" in said[0]
    assert "found a list as a key" in said[1]
    assert "e is given twice, first in line 7" in said[2]
    assert "c is given twice, first in line 3" in said[3]


def test_a_file_that_cannot_be_read_says_so(tmp_path: Path) -> None:
    """A missing file, a folder and bytes that are no UTF-8 are each refused with the name."""
    with pytest.raises(UserError, match="cannot be read: No such file"):
        read_yaml(tmp_path / "missing.yaml")
    with pytest.raises(UserError, match="cannot be read: Is a directory"):
        read_yaml(tmp_path)
    bad = tmp_path / "bad.yaml"
    bad.write_bytes(b"a: \xff\xfe\n")
    with pytest.raises(UserError, match="is not UTF-8"):
        read_yaml(bad)


def test_a_byte_order_mark_is_no_part_of_the_first_key(tmp_path: Path) -> None:
    """A file saved by an editor that puts a byte order mark first reads like any other."""
    file = tmp_path / "marked.yaml"
    file.write_bytes(b"\xef\xbb\xbfa: 1\r\n")
    assert read_yaml(file).data == {"a": 1}


@given(st.dictionaries(_NAMES, _TREES, max_size=5))
def test_what_pyyaml_writes_is_read_back(tree: dict[str, object]) -> None:
    """Any plain tree written by PyYAML comes back the same, and every key and item of it has a line."""
    file = parse_yaml(yaml.safe_dump(tree), _FILE)
    assert file.data == tree
    assert len(file.lines) == _count(tree)


def _count(tree: object) -> int:
    """Keys and items in a tree."""
    if isinstance(tree, dict):
        return len(tree) + sum(map(_count, tree.values()))
    return len(tree) + sum(map(_count, tree)) if isinstance(tree, list) else 0


def test_a_single_value_is_read_as_in_a_file() -> None:
    """Numbers, words and lists of --set mean what they mean in a file, and half a list is refused."""
    assert parse_value("440") == 440
    assert parse_value("cross") == "cross"
    assert parse_value("[5, 7]") == [5, 7]
    with pytest.raises(UserError, match="cannot be read as a value"):
        parse_value("[1, 2")
