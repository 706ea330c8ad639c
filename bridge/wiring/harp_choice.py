"""Which of the ways to name a harp counts where several layers of settings use one: a key, a harp file, or a set.

What was said later takes the place of what was said before: a harp file on the command line that of the key in a
preset. Two ways in one breath are an error, and so is telling a harp file what it says itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bridge.base.errors import UserError
from bridge.harp.settings import AUTO
from bridge.wiring.layers import Layers

_GROUP = "harp"
#: The ways to name a harp, and which of them are empty when they do not count.
_WAYS = ("key", "file", "harps")
_EMPTY: Mapping[str, object] = {"file": None, "harps": []}
#: What a harp file says as well.
_IN_A_FILE = ("a4_hz", "layout", "temperament")
#: What is found together with an unknown key.
_FOUND_TOO = ("file", "position", "a4_hz")
_OPTIONS = {
    "key": "--harp",
    "file": "--harp-file",
    "harps": "--harps",
    "position": "--position",
    "a4_hz": "--a4",
    "tune": "--tune",
}


def settle_harp(layers: Layers) -> None:
    """Leave one way to name the harp in ``layers``, and one to say its A4: those that were said last.

    Raises UserError where two were said at once, and where a harp file, or a harp that is to be found, was given
    together with what comes with it.
    """
    plain = layers.data.get(_GROUP)
    if not isinstance(plain, dict):
        return
    if plain.get("key") == AUTO:
        _refuse_beside_auto(layers, plain)
    ranks = {way: layers.rank((_GROUP, way)) for way in _WAYS if plain.get(way)}
    last = max(ranks.values(), default=0)
    chosen = [way for way, rank in ranks.items() if rank == last]
    if len(chosen) > 1:
        _refuse(layers, chosen[-1], chosen[0], "Each of them says which harp it is: leave one out.")
    if chosen == ["file"]:
        for name in _IN_A_FILE:
            if layers.rank((_GROUP, name)) >= last:
                _refuse(layers, "file", name, "A harp file says that itself: leave one out, or change the file.")
    for way, empty in _EMPTY.items():
        if way in ranks and way not in chosen:
            plain[way] = empty
    if plain.get("tune") == AUTO:
        _settle_tuning(layers, plain, chosen)


def _refuse_beside_auto(layers: Layers, plain: Mapping[str, object]) -> None:
    """Raise UserError where what is found with the key was named as well, in the same breath or later."""
    rank = layers.rank((_GROUP, "key"))
    for name in _FOUND_TOO:
        if plain.get(name) is not None and layers.rank((_GROUP, name)) >= rank:
            raise UserError(
                f"--harp auto finds key, position and A4 itself: leave {_OPTIONS[name]} out, or name the key."
            )


def _settle_tuning(layers: Layers, plain: dict[str, object], chosen: Sequence[str]) -> None:
    """An A4 or a harp file that was said after ``tune: auto`` ends it.

    In one breath they are refused, and so is tuning a harp file, which would change nothing.
    """
    rank = layers.rank((_GROUP, "tune"))
    named_a4 = layers.rank((_GROUP, "a4_hz"))
    has_file = chosen == ["file"]
    if named_a4 == rank or (has_file and layers.rank((_GROUP, "file")) <= rank):
        _refuse(layers, "tune", "file" if has_file else "a4_hz", "One finds the A4 that the other says: leave one out.")
    if named_a4 > rank or has_file:
        plain["tune"] = "as-set"


def _refuse(layers: Layers, one: str, other: str, advice: str) -> None:
    first, second = (f"harp.{name}" + (f" ({_OPTIONS[name]})" if name in _OPTIONS else "") for name in (one, other))
    raise UserError(f"{layers.where((_GROUP, one))}: {first} was given together with {second}. {advice}")
