"""Layers of settings laid over one another, each value remembering where it came from.

The order is ``config/default.yaml``, what the command itself takes for granted, a preset, the options of the command,
``--set``; a later layer wins, key by key.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path

from bridge.base.errors import UserError
from bridge.base.resources import resource, resource_folder
from bridge.base.yaml_file import KeyPath, YamlFile, parse_value, read_yaml

DEFAULT = "default"
#: Where a value stands that was given as an option of its own.
ON_COMMAND_LINE = "the command line"

#: Who said a layer, the last to have the say at the end.
BY_DEFAULT, BY_COMMAND, BY_PRESET, TYPED = range(4)


class Layers:
    """The sum of the layers so far: nested plain ``data``, and where each part of it was said."""

    def __init__(self) -> None:
        self.data: dict[str, object] = {}
        self._origins: dict[KeyPath, tuple[str, int]] = {}
        self._said: list[dict[KeyPath, object]] = []
        self._ranks: list[int] = []

    def add_file(self, file: YamlFile, rank: int = BY_PRESET) -> None:
        """Lay the values of a YAML file over what is there."""
        self._lay(file.data, {key: (file.where(key), line) for key, line in file.lines.items()}, rank)

    def add_value(self, key: KeyPath, value: object, origin: str, rank: int = TYPED) -> None:
        """Lay one value over what is there; ``origin`` is how to call its place in an error."""
        nested: object = value
        for name in reversed(key):
            nested = {str(name): nested}
        if isinstance(nested, Mapping):
            self._lay(nested, {key[: length + 1]: (origin, 0) for length in range(len(key))}, rank)

    def where(self, key: KeyPath) -> str:
        """Place of ``key``, or of the nearest part above it that some layer said."""
        return self._origin(key)[0]

    def order(self, key: KeyPath) -> tuple[int, int]:
        """Where ``key`` comes among all that was said, to sort by: its layer, and its line in that."""
        layer = max((number for number, said in enumerate(self._said) if _touches(said, key)), default=0)
        return layer, self._origin(key)[1]

    def rank(self, key: KeyPath) -> int:
        """Who said the setting ``key`` last: one of ``BY_DEFAULT`` to ``TYPED``."""
        return max((rank for rank, said in zip(self._ranks, self._said, strict=True) if key in said), default=0)

    def latest(self, group: KeyPath) -> list[tuple[KeyPath, object]]:
        """Keys and values that the last layer to touch ``group`` said in it."""
        for said in reversed(self._said):
            inside = [(key, value) for key, value in said.items() if key[: len(group)] == group]
            if inside:
                return inside
        return []

    def _origin(self, key: KeyPath) -> tuple[str, int]:
        """Place and line of ``key`` or of the nearest part above it."""
        for length in range(len(key), 0, -1):
            if key[:length] in self._origins:
                return self._origins[key[:length]]
        return "the settings", 0

    def _lay(self, values: Mapping[str, object], origins: Mapping[KeyPath, tuple[str, int]], rank: int) -> None:
        """Lay ``values`` over the data and note where each came from."""
        self._origins.update(origins)
        self._said.append({})
        self._ranks.append(rank)
        _merge(self.data, values, (), self._said[-1])


def preset_file(preset: str) -> Path:
    """The YAML file of a preset: a file as it stands, or a name in ``config/``.

    Raises UserError with the names there are when it is neither.
    """
    path = Path(preset)
    if path.suffix.lower() in {".yaml", ".yml"} or path.is_file():
        if not path.is_file():
            raise UserError(f"--preset {preset}: no such file. Check the name, or use one of: {_names()}.")
        return path
    named = resource_folder("config") / f"{preset}.yaml"
    if "/" in preset or not named.is_file():
        near = get_close_matches(preset, presets(), n=1)
        hint = f" Did you mean {near[0]}?" if near else ""
        raise UserError(f"--preset {preset}: no such preset.{hint} There are: {_names()}; or give a .yaml file.")
    return named


def presets() -> list[str]:
    """Names of the presets that come with the program, sorted."""
    return sorted(path.stem for path in resource_folder("config").glob("*.yaml"))


def gather(
    preset: str | None,
    sets: Sequence[str],
    flags: Mapping[str, object],
    granted: Mapping[str, object] | None = None,
) -> Layers:
    """All layers in their order.

    ``granted`` maps dotted keys to what the command takes for granted, ``flags`` to values given as options (None =
    not given); ``sets`` are ``key=value`` words.
    Raises UserError for a file that cannot be read and for a word without ``=``.
    """
    layers = Layers()
    layers.add_file(read_yaml(resource("config", f"{DEFAULT}.yaml")), BY_DEFAULT)
    for dotted, value in (granted or {}).items():
        layers.add_value(tuple(dotted.split(".")), value, "what the command takes for granted", BY_COMMAND)
    if preset is not None and preset != DEFAULT:
        layers.add_file(read_yaml(preset_file(preset)))
    for dotted, value in flags.items():
        if value is not None:
            layers.add_value(tuple(dotted.split(".")), value, ON_COMMAND_LINE)
    for word in sets:
        dotted, equals, text = word.partition("=")
        if not equals or not dotted.strip():
            raise UserError(f"--set {word}: expected key=value, for example --set harp.a4_hz=442.")
        layers.add_value(tuple(dotted.strip().split(".")), parse_value(text), f"--set {word}")
    return layers


def _merge(below: dict[str, object], above: Mapping[str, object], path: KeyPath, said: dict[KeyPath, object]) -> None:
    """Merge mappings key by key; anything else replaces what was there. Fills ``said`` with the plain values."""
    for name, value in above.items():
        there = below.get(name)
        if isinstance(value, Mapping):
            lower = dict(there) if isinstance(there, Mapping) else {}
            below[name] = lower
            _merge(lower, value, (*path, name), said)
        else:
            below[name] = value
            said[*path, name] = value


def _touches(said: Mapping[KeyPath, object], key: KeyPath) -> bool:
    """Whether a layer that said ``said`` spoke of ``key``, of something in it, or of a group it lies in."""
    return any(key[: len(other)] == other[: len(key)] for other in said)


def _names() -> str:
    """The presets as one phrase."""
    return ", ".join(presets())
