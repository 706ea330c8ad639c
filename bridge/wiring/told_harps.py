"""The harps that a ``take.yaml`` tells of, checked like settings: a slip of the hand is told with its line."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from bridge.base.errors import ManyFaultsError, SettingError, UserError
from bridge.base.yaml_file import KeyPath, YamlFile
from bridge.harp.harp import Harp
from bridge.harp.harp_file import FORMAT, harp_from_file, read_harp_file
from bridge.harp.keys import KEYS
from bridge.harp.positions import find_position
from bridge.harp.settings import AUTO, HarpSettings, is_yaml_file
from bridge.wiring.harps import HeldHarp, find_layout, harp_set, read_layout
from bridge.wiring.layers import Layers
from bridge.wiring.notice import Notice
from bridge.wiring.settings import validate

_FIRST, _CHANGES = "harp", "harp_changes"
#: What a take says of a harp, in the words of its settings, and in those of a harp file.
_PLAIN = ("key", "position", "a4_hz", "layout", "temperament")
_OF_A_HARP_FILE = ("date", "key", "layout", "a4_hz", "temperament", "reeds", "breath")
#: What a fault in the facts of a change is called after, which stand in a line of the journal.
_JOURNAL = Path("journal.jsonl")


@dataclass(frozen=True, slots=True)
class PlayedHarp:
    """The harp in hand from ``since_s`` on, in seconds of the take; None where it cannot be known."""

    since_s: float
    held: HeldHarp | None

    @property
    def harp(self) -> Harp | None:
        """The harp itself."""
        return None if self.held is None else self.held.harp


def told_harps(file: YamlFile, notice: Notice) -> tuple[PlayedHarp, ...]:
    """The harps of a take in order of time, at least one; ``notice`` hears of a layout file that is gone.

    Raises SettingError with file, line, what was found and what is allowed, ManyFaultsError where several are wrong.
    """
    errors: list[UserError] = []
    harps: list[PlayedHarp] = []
    for place, since_s, facts in _told(file, errors):
        try:
            harps.append(PlayedHarp(since_s, _held(facts, file, place, notice)))
        except ManyFaultsError as error:
            errors += error.errors
        except UserError as error:
            errors.append(error)
    if errors:
        raise errors[0] if len(errors) == 1 else ManyFaultsError(errors)
    return tuple(sorted(harps, key=lambda one: one.since_s))


def harp_from_facts(facts: Mapping[str, object], notice: Notice = lambda _: None) -> Harp | None:
    """The harp of which a journal says these ``facts``; None, and a notice, where it cannot be known."""
    file = YamlFile(_JOURNAL, {_FIRST: dict(facts)}, {})
    try:
        return told_harps(file, notice)[0].harp
    except UserError as error:
        notice(f"The harp of the take cannot be known any more ({error}). The notes get no holes.")
        return None


def _told(file: YamlFile, errors: list[UserError]) -> Iterator[tuple[KeyPath, float, Mapping[str, object]]]:
    """Where each harp is told of, from when on it is played, and its facts; what is no harp goes to ``errors``."""
    first = file.data.get(_FIRST, {})
    if isinstance(first, Mapping):
        yield (_FIRST,), 0.0, first
    else:
        errors.append(_fault(file, (_FIRST,), first, f"these below it: {', '.join(_PLAIN)}"))
    changes = file.data.get(_CHANGES, [])
    if not isinstance(changes, list):
        errors.append(_fault(file, (_CHANGES,), changes, "a list of harps, each with its time_s"))
        return
    for number, change in enumerate(changes):
        place = (_CHANGES, number)
        if not isinstance(change, Mapping):
            errors.append(_fault(file, place, change, f"these below it: time_s, {', '.join(_PLAIN)}"))
            continue
        since_s = change.get("time_s")
        if isinstance(since_s, bool) or not isinstance(since_s, int | float) or not 0.0 <= since_s < math.inf:
            errors.append(_fault(file, (*place, "time_s"), since_s, "seconds from the start of the take, from 0 on"))
            continue
        yield place, float(since_s), change


def _held(facts: Mapping[str, object], file: YamlFile, place: KeyPath, notice: Notice) -> HeldHarp | None:
    """The harp of these facts, which stand at ``place``; None where nothing is known of it."""
    if not facts or facts.get("sought"):
        return None
    layout = facts.get("layout", "")
    if isinstance(layout, str) and is_yaml_file(layout):
        try:
            read_layout(layout)
        except UserError as error:
            # It is no slip in the take that a file of the player's own has been moved.
            notice(f"The harp of the take cannot be known any more ({error}). The notes get no holes.")
            return None
    return _measured(facts, file, place) if "file" in facts else _plain(facts, file, place)


def _plain(facts: Mapping[str, object], file: YamlFile, place: KeyPath) -> HeldHarp:
    """A harp that is named by its key."""
    absent = [name for name in _PLAIN if name not in facts]
    if absent:
        raise _fault(file, (*place, absent[0]), None, "a value; it may not be left out")
    if str(facts["key"]).strip().lower() == AUTO:
        raise _fault(file, (*place, "key"), facts["key"], ", ".join(key.name for key in KEYS))
    layers = Layers()
    known = {name: facts[name] for name in _PLAIN}
    lines: dict[KeyPath, int] = {(name,): file.lines[*place, name] for name in _PLAIN if (*place, name) in file.lines}
    layers.add_file(YamlFile(file.path, known, lines))
    try:
        return harp_set(validate(HarpSettings, layers)).harps[0]
    except ManyFaultsError as error:
        raise ManyFaultsError([_below(one, place) for one in error.errors]) from error
    except SettingError as error:
        raise _below(error, place) from error


def _measured(facts: Mapping[str, object], file: YamlFile, place: KeyPath) -> HeldHarp:
    """A harp that came from a harp file, of which the take says all."""
    known = {name: facts[name] for name in _OF_A_HARP_FILE if name in facts}
    try:
        found = read_harp_file({"format": FORMAT, **known}, lambda key: file.where((*place, *key)))
    except ManyFaultsError as error:
        raise ManyFaultsError([_below(one, place) for one in error.errors]) from error
    except SettingError as error:
        raise _below(error, place) from error
    position = facts.get("position")
    try:
        number = find_position(position if isinstance(position, int | str) else "")
    except UserError as error:
        raise _fault(
            file, (*place, "position"), position, str(error).partition("Positions: ")[2].rstrip(".")
        ) from error
    try:
        layout = read_layout(find_layout(found.layout))
    except UserError as error:
        raise _fault(file, (*place, "layout"), found.layout, str(error).partition("Layouts: ")[2]) from error
    try:
        return HeldHarp(harp_from_file(found, number, layout), str(facts["file"]), found)
    except UserError as error:
        raise UserError(f"{file.where((*place, 'reeds'))}: {error}") from error


def _fault(file: YamlFile, key: KeyPath, found: object, allowed: str) -> SettingError:
    return SettingError(where=file.where(key), key=_dotted(key), found=found, allowed=allowed)


def _below(error: UserError, place: KeyPath) -> UserError:
    """The same fault with the whole way to its key."""
    if not isinstance(error, SettingError):
        return error
    key = f"{_dotted(place)}.{error.key}"
    return SettingError(where=error.where, key=key, found=error.found, allowed=error.allowed)


def _dotted(key: KeyPath) -> str:
    return ".".join(str(part + 1) if isinstance(part, int) else part for part in key)
