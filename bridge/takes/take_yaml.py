"""``take.yaml``: what a take is, in which format, played on what and made by which versions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import yaml

from bridge.base.errors import UserError
from bridge.base.writing import write_safely
from bridge.base.yaml_file import YamlFile, read_yaml

FORMAT = 1


@dataclass(frozen=True, slots=True)
class TakeFacts:
    """Plain data only: numbers, words, lists and mappings.

    ``source`` says what was heard (a file's name or the input), ``harp`` holds key, position and A4, ``versions`` the
    program and what it depends on, ``harp_changes`` the harps taken up later, each with the ``time_s`` from which on.
    ``left_out`` is what of a recording was no playing: ``start_s``, ``end_s`` and ``what`` it was taken for.
    ``tempo`` is what ``tempo.tempo_facts`` gives, empty where no tempo is known. ``edited`` tells of the edits that led
    from what was played to it, in order: ``edit``, the take it was ``made_from``, and its values. ``length_s`` is how
    long it is, None where its sound or its last note says so.
    """

    source: str
    harp: Mapping[str, object]
    settings: Mapping[str, object]
    versions: Mapping[str, str] = field(default_factory=dict)
    harp_changes: Sequence[Mapping[str, object]] = ()
    left_out: Sequence[Mapping[str, object]] = ()
    tempo: Mapping[str, object] = field(default_factory=dict)
    edited: Sequence[Mapping[str, object]] = ()
    length_s: float | None = None


def write_take_yaml(path: Path, facts: TakeFacts) -> None:
    """Write ``take.yaml`` safely; raises OSError when the folder cannot be written."""
    document = {
        "format": FORMAT,
        "source": facts.source,
        "harp": dict(facts.harp),
        **({"harp_changes": [dict(change) for change in facts.harp_changes]} if facts.harp_changes else {}),
        **({"left_out": [dict(span) for span in facts.left_out]} if facts.left_out else {}),
        **({"tempo": dict(facts.tempo)} if facts.tempo else {}),
        **({"edited": [dict(edit) for edit in facts.edited]} if facts.edited else {}),
        **({} if facts.length_s is None else {"length_s": facts.length_s}),
        "settings": dict(facts.settings),
        "versions": dict(facts.versions),
    }
    _write(path, document)


def put_tempo(path: Path, tempo: Mapping[str, object], out: Path | None = None) -> None:
    """Say another tempo in a ``take.yaml``, or in a copy of it at ``out``, and leave the rest of it.

    Raises UserError and OSError.
    """
    document = {**read_take_yaml(path), "tempo": dict(tempo)}
    # Where the writer has it: behind what was heard, before the settings.
    later = {name: document.pop(name) for name in ("edited", "length_s", "settings", "versions") if name in document}
    _write(out or path, document | later)


def _write(path: Path, document: Mapping[str, object]) -> None:
    write_safely(path, yaml.safe_dump(dict(document), sort_keys=False, allow_unicode=True, width=120))


def read_take_yaml(path: Path) -> dict[str, object]:
    """The mapping in a ``take.yaml``; raises UserError when it is none or its format is newer than ours."""
    return read_take_file(path).data


def read_take_file(path: Path) -> YamlFile:
    """The same with the line of every key."""
    file = read_yaml(path)
    number = file.data.get("format")
    if not isinstance(number, int) or isinstance(number, bool) or number < 1:
        raise UserError(f"{file.where(('format',))}: format: found {number!r}, allowed: {FORMAT}. Is this a take?")
    if number > FORMAT:
        raise UserError(
            f"{file.where(('format',))}: this take has format {number}, this reedwire reads up to {FORMAT}. "
            "Install a newer reedwire to open it."
        )
    return file
