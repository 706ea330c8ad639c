"""The keys that harps are sold in, each with the MIDI note of its hole-1 blow reed.

Plain keys run from G below middle C up to F# above it; ``low-`` and ``high-`` name the harps outside that octave
(common practice of the trade, no source).
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.base.errors import UserError

_LOWEST_PLAIN_MIDI = 55
_PLAIN = ("G", "Ab", "A", "Bb", "B", "C", "Db", "D", "Eb", "E", "F", "F#")
_LOW = ("C", "Db", "D", "Eb", "E", "F", "F#")
_HIGH = ("G",)
_PLACES = ("low", "high")
#: The other spelling of a key, lower case, and the one used here.
_SAME = {"a#": "bb", "c#": "db", "d#": "eb", "e#": "f", "fb": "e", "g#": "ab", "gb": "f#", "b#": "c", "cb": "b"}


@dataclass(frozen=True, slots=True)
class Key:
    """A key of harp: ``name`` as on the command line, ``midi_note`` of hole-1 blow."""

    name: str
    midi_note: int


def _all_keys() -> tuple[Key, ...]:
    plain = {name: _LOWEST_PLAIN_MIDI + step for step, name in enumerate(_PLAIN)}
    keys = [Key(name, note) for name, note in plain.items()]
    keys += [Key(f"low-{name}", plain[name] - 12) for name in _LOW]
    keys += [Key(f"high-{name}", plain[name] + 12) for name in _HIGH]
    return tuple(sorted(keys, key=lambda key: key.midi_note))


#: Every key, lowest first.
KEYS = _all_keys()
_BY_NAME = {key.name.lower(): key for key in KEYS}


def find_key(name: str) -> Key:
    """The key of that name; capitals do not matter, sharps and flats of one pitch are the same (``A#`` is ``Bb``).

    Raises UserError listing every key.
    """
    key = _named(name)
    if key is None:
        allowed = ", ".join(key.name for key in KEYS)
        raise UserError(f"There is no harp in the key {name!r}. Keys, from the lowest: {allowed}.")
    return key


def is_key(name: str) -> bool:
    """Whether there is a harp in the key of that name."""
    return _named(name) is not None


def _named(name: str) -> Key | None:
    letter = name.strip().lower().replace("♭", "b").replace("♯", "#")
    prefix = ""
    for place in _PLACES:
        if letter.startswith(place):
            prefix, letter = f"{place}-", letter.removeprefix(place).lstrip(" -_")
    return _BY_NAME.get(prefix + _SAME.get(letter, letter))
