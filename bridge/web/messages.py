"""What the board and its pages say to each other, as JSON text frames; ``shared/board-messages.md`` tells it in full.

What comes from a page is read as strictly as can be: anything that is not exactly one of the messages is refused.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from bridge.base.commands import Arm, ChangeHarp, Command, Panic, Quiet

CONTRACT = 1
#: A message from a page is never longer, in bytes, nor what the teacher shares with the viewers.
MOST_BYTES = 4096
MOST_SHARED = 2000
#: A harp's name is cut by the record that carries it; a longer one is none.
_MOST_HARP = 32
#: Numbers of frames fit a number of JavaScript exactly.
_MOST_NUMBER = 2**53
_DEEPEST = 6
#: An exercise begins within this, in seconds, and no loudspeaker takes longer; a name has so many letters.
_MOST_AHEAD_S, _MOST_LATENCY_S = 10.0, 2.0
_MOST_LETTERS = 40


class MessageError(ValueError):
    """What came is no message of the contract."""


@dataclass(frozen=True, slots=True)
class Seen:
    """The page has drawn frame ``number``."""

    number: int


@dataclass(frozen=True, slots=True)
class Do:
    """The teacher wants this done by the engine."""

    command: Command


@dataclass(frozen=True, slots=True)
class Share:
    """The teacher's view, for all: plain JSON that only pages look into."""

    view: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class DrillOn:
    """The teacher wants an exercise played, ``tempo`` beats a minute, and kept for ``player``.

    The page sounds the first beat of the count-in ``in_s`` seconds from when it said so. ``latency_s`` is how long its
    loudspeaker takes, as far as it knows; None where the beat is only seen.
    """

    exercise: str
    tempo: float
    player: str
    in_s: float
    latency_s: float | None


@dataclass(frozen=True, slots=True)
class DrillOff:
    """The teacher wants it broken off."""


@dataclass(frozen=True, slots=True)
class Ask:
    """The teacher wants to know something."""

    what: Literal["delays"]


Said = Seen | Do | Share | DrillOn | DrillOff | Ask


def read_message(text: str) -> Said:
    """The message in a text frame. Raises MessageError for anything else."""
    if len(text) > MOST_BYTES:
        raise MessageError("too long")
    try:
        plain = json.loads(text, parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        raise MessageError("no JSON") from error
    if not isinstance(plain, dict):
        raise MessageError("no object")
    match plain:
        case {"is": "seen", "n": int(number), **rest} if not rest and not isinstance(number, bool):
            if 0 < number < _MOST_NUMBER:
                return Seen(number)
        case {"is": "ask", "what": "delays", **rest} if not rest:
            return Ask("delays")
        case {"is": "do", "what": str(what), **rest}:
            return _done(what, rest)
    raise MessageError("no message of the contract")


def _done(what: str, rest: dict[str, Any]) -> Do | Share | DrillOn | DrillOff:
    """What the teacher wants done."""
    read = _WANTED.get(what)
    if read is None:
        raise MessageError("nothing that can be done")
    return read(rest)


def _arm(rest: dict[str, Any]) -> Do:
    return Do(Arm(_switch(rest)))


def _quiet(rest: dict[str, Any]) -> Do:
    return Do(Quiet(_switch(rest)))


def _harp(rest: dict[str, Any]) -> Do:
    match rest:
        case {"harp": str(harp), **more} if not more and 0 < len(harp.encode("utf-8", "replace")) <= _MOST_HARP:
            if harp.isprintable():
                return Do(ChangeHarp(harp))
    raise MessageError("no name of a harp")


def _panic(rest: dict[str, Any]) -> Do:
    if rest:
        raise MessageError("panic takes nothing")
    return Do(Panic())


def _share(rest: dict[str, Any]) -> Share:
    match rest:
        case {"view": dict(view), **more} if not more and _depth(view) <= _DEEPEST:
            try:
                size = len(dumps(view))
            except ValueError as error:
                raise MessageError("a number beyond all numbers") from error
            if size <= MOST_SHARED:
                return Share(view)
    raise MessageError("no view")


def _drill(rest: dict[str, Any]) -> DrillOn | DrillOff:
    match rest:
        case {"on": False, **more} if not more:
            return DrillOff()
        case {
            "on": True,
            "exercise": str(exercise),
            "tempo": tempo,
            "player": str(player),
            "in": in_s,
            "latency": latency_s,
            **more,
        } if not more and _is_name(exercise) and _is_name(player):
            return DrillOn(
                exercise,
                _number(tempo, 30.0, 200.0),
                player,
                _number(in_s, 0.0, _MOST_AHEAD_S),
                None if latency_s is None else _number(latency_s, 0.0, _MOST_LATENCY_S),
            )
    raise MessageError("no exercise")


_WANTED: dict[str, Callable[[dict[str, Any]], Do | Share | DrillOn | DrillOff]] = {
    "arm": _arm,
    "drill": _drill,
    "harp": _harp,
    "panic": _panic,
    "quiet": _quiet,
    "share": _share,
}


def dumps(plain: object) -> str:
    """``plain`` as JSON, short and in ASCII; NaN and infinity raise ValueError, since no browser reads them."""
    return json.dumps(plain, separators=(",", ":"), allow_nan=False)


def _switch(rest: dict[str, Any]) -> bool:
    match rest:
        case {"on": bool(on), **more} if not more:
            return on
    raise MessageError("neither on nor off")


def _is_name(word: str) -> bool:
    return 0 < len(word) <= _MOST_LETTERS and word.isprintable()


def _number(plain: object, low: float, high: float) -> float:
    if isinstance(plain, bool) or not isinstance(plain, int | float) or not low <= plain <= high:
        raise MessageError("no number that can be")
    return float(plain)


def _depth(plain: object) -> int:
    """How deep the lists and objects lie in each other; no deeper than too deep is looked."""
    depth, level = 0, [plain]
    while depth <= _DEEPEST and (level := [each for each in level if isinstance(each, dict | list)]):
        depth += 1
        level = [inner for each in level for inner in (each.values() if isinstance(each, dict) else each)]
    return depth


def _no_number(word: str) -> float:
    raise MessageError(f"{word} is no number of JSON")
