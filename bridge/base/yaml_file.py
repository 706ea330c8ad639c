"""YAML read with the line of every key, so that a wrong setting can be pointed at."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import yaml

from bridge.base.errors import ManyFaultsError, UserError

#: Where a value stands in nested mappings and lists: ``("quantise", "third", "target")``, ``("slots", 2)``.
KeyPath = tuple[str | int, ...]


@dataclass(frozen=True)
class YamlFile:
    """A YAML file as plain data; ``lines`` gives the line (from 1) of each key and list item by its path."""

    path: Path
    data: dict[str, object]
    lines: dict[KeyPath, int]

    def where(self, key: KeyPath) -> str:
        """``file:line`` of ``key``, or of the nearest mapping above it that the file has."""
        for length in range(len(key), 0, -1):
            if key[:length] in self.lines:
                return f"{self.path}:{self.lines[key[:length]]}"
        return str(self.path)


def read_yaml(path: Path) -> YamlFile:
    """Read a mapping from ``path`` (UTF-8); an empty file is an empty mapping.

    Raises UserError with file and line when the file cannot be read, is no YAML, holds the same key twice or is no
    mapping; ManyFaultsError in the order of the lines when several keys are wrong.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise UserError(f"{path}: cannot be read: {error.strerror}. Check the name and the rights.") from error
    except UnicodeDecodeError as error:
        raise UserError(f"{path}: is not UTF-8 text (byte {error.start}). Save it as UTF-8.") from error
    return parse_yaml(text, path)


def parse_yaml(text: str, path: Path) -> YamlFile:
    """The mapping in ``text``, with ``path`` as the name to say in errors. Raises UserError like :func:`read_yaml`."""
    try:
        loader = yaml.SafeLoader(text)
        node = loader.get_single_node()
        if node is None:
            return YamlFile(path, {}, {})
        if not isinstance(node, yaml.MappingNode):
            raise UserError(f"{path}:{_line(node)}: found {_kind(node)}, expected `key: value` lines.")
        faults: list[tuple[int, str]] = []
        lines = dict(_lines(node, (), faults, frozenset()))
        if faults:
            errors = [UserError(f"{path}:{line_no}: {what}") for line_no, what in sorted(faults)]
            raise errors[0] if len(errors) == 1 else ManyFaultsError(errors)
        data = loader.construct_document(node)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = f":{mark.line + 1}" if mark else ""
        problem = error.problem or error.context or "cannot be understood"
        raise UserError(f"{path}{line}: not valid YAML: {problem}. Check indentation, colons and quotes.") from error
    except yaml.reader.ReaderError as error:
        line_no = text.count("\n", 0, error.position) + 1
        raise UserError(f"{path}:{line_no}: holds a character that YAML does not allow: {error.reason}.") from error
    except (ValueError, RecursionError) as error:
        raise UserError(f"{path}: holds a value that cannot be read: {error}.") from error
    return YamlFile(path, data, lines)


def parse_value(text: str) -> object:
    """One value as YAML reads it (``440`` a number, ``cross`` a word, ``[1, 2]`` a list). Raises UserError."""
    try:
        return yaml.safe_load(text)
    except (yaml.YAMLError, ValueError) as error:
        raise UserError(f"{text!r} cannot be read as a value. Put it in quotes if it is a word.") from error


def _lines(
    node: yaml.Node, above: KeyPath, faults: list[tuple[int, str]], parents: frozenset[int]
) -> Iterator[tuple[KeyPath, int]]:
    """Every key and item below ``node`` with its line; keys given twice, aliases to themselves, odd keys are faults."""
    if id(node) in parents:
        faults.append((_line(node), "an alias refers to the part it stands in. Write it out instead."))
        return
    parents |= {id(node)}
    if isinstance(node, yaml.MappingNode):
        seen: dict[str, int] = {}
        for key, value in node.value:
            if not isinstance(key, yaml.ScalarNode):
                faults.append((_line(key), f"found {_kind(key)} as a key, expected a plain word."))
                continue
            # A key is the word as it is written: YAML 1.1 would make True of `on` and a number of `5`.
            key.tag = "tag:yaml.org,2002:str"
            name = key.value
            if name in seen:
                faults.append((_line(key), f"{name} is given twice, first in line {seen[name]}. Keep one."))
                continue
            seen[name] = _line(key)
            yield (*above, name), _line(key)
            yield from _lines(value, (*above, name), faults, parents)
    elif isinstance(node, yaml.SequenceNode):
        for index, item in enumerate(node.value):
            yield (*above, index), _line(item)
            yield from _lines(item, (*above, index), faults, parents)


def _line(node: yaml.Node) -> int:
    """The line (from 1) on which ``node`` begins."""
    return int(node.start_mark.line) + 1


def _kind(node: yaml.Node) -> str:
    """What ``node`` is, in plain words."""
    if isinstance(node, yaml.MappingNode):
        return "a mapping"
    return "a list" if isinstance(node, yaml.SequenceNode) else f"the plain value {node.value!r}"
