"""Which of the ways to name a harp counts where several layers of settings use one: a key, a harp file, or a set.

What was said later takes the place of what was said before: a harp file on the command line that of the key in a
preset. Two ways in one breath are an error, and so is telling a harp file what it says itself.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.base.errors import UserError
from bridge.wiring.layers import Layers

_GROUP = "harp"
#: The ways to name a harp, and which of them are empty when they do not count.
_WAYS = ("key", "file", "harps")
_EMPTY: Mapping[str, object] = {"file": None, "harps": []}
#: What a harp file says as well.
_IN_A_FILE = ("a4_hz", "layout", "temperament")
_OPTIONS = {"key": "--harp", "file": "--harp-file", "harps": "--harps", "a4_hz": "--a4"}


def settle_harp(layers: Layers) -> None:
    """Leave one way to name the harp in ``layers``, the one that was said last.

    Raises UserError where two were said at once, and where a harp file was given together with what it says itself.
    """
    plain = layers.data.get(_GROUP)
    if not isinstance(plain, dict):
        return
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


def _refuse(layers: Layers, one: str, other: str, advice: str) -> None:
    first, second = (f"harp.{name}" + (f" ({_OPTIONS[name]})" if name in _OPTIONS else "") for name in (one, other))
    raise UserError(f"{layers.where((_GROUP, one))}: {first} was given together with {second}. {advice}")
