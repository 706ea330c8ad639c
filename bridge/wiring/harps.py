"""The harps that the settings name, and their layouts: those of ``config/layouts/`` or a file of one's own."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from bridge.base.errors import UserError
from bridge.base.resources import resource, resource_folder
from bridge.base.units import MIDI_A4_HZ
from bridge.base.yaml_file import read_yaml
from bridge.harp.harp import Harp, make_harp
from bridge.harp.harp_file import HarpFile, harp_from_file, plain_harp_file, read_harp_file
from bridge.harp.keys import KEYS, find_key
from bridge.harp.layout import RICHTER, Layout, layout_from
from bridge.harp.settings import AUTO, HIGHEST_A4, LOWEST_A4, HarpSettings, is_yaml_file

_FOLDER = "layouts"
#: Words after which an A4 may follow.
_KEY_AND_POSITION = 2


@dataclass(frozen=True, slots=True, eq=False)
class HeldHarp:
    """A harp as it is played; ``path`` and ``file`` are those of its harp file, None for one named by its key.

    ``sought`` is whether this only stands for one of which nothing is known yet but layout and temperament.
    """

    harp: Harp
    path: str | None = None
    file: HarpFile | None = None
    sought: bool = False

    @property
    def name(self) -> str:
        """What to call it in one line: ``A harp, cross position, as in my-a.yaml``."""
        if self.sought:
            return "harp not known yet"
        return self.harp.name if self.path is None else f"{self.harp.name}, as in {Path(self.path).name}"

    @property
    def playing_db(self) -> tuple[float, float] | None:
        """Levels of soft and hard playing on it, dBFS; None where they are not known."""
        breath = self.file.breath if self.file is not None else None
        return None if breath is None else (breath.soft_db, breath.hard_db)

    @property
    def word(self) -> str:
        """What :meth:`HarpSet.find` finds it by in any set that it came from, whatever its A4 has become."""
        if self.path is not None:
            return self.path
        return f"{self.harp.key} {self.harp.position} {self.harp.a4_hz:.2f}"

    def at_a4(self, a4_hz: float) -> HeldHarp:
        """The same harp with another A4, to a hundredth of a Hz; only for one named by its key."""
        harp = self.harp
        return HeldHarp(make_harp(harp.key, harp.position, round(a4_hz, 2), harp.layout, harp.temperament))

    def facts(self) -> dict[str, object]:
        """What a take says of it: plain data, cents from equal temperament at ``a4_hz``, levels in dBFS."""
        known: dict[str, object] = {
            "key": self.harp.key,
            "position": self.harp.position,
            "a4_hz": self.harp.a4_hz,
            "layout": self.harp.layout.name,
            "temperament": self.harp.temperament,
            "straight_third_cents": round(self.harp.straight_third_cents(), 2),
        }
        if self.sought:
            known["sought"] = True
        if self.file is not None:
            kept = plain_harp_file(self.file)
            known |= {"file": self.path} | {name: kept[name] for name in ("date", "reeds", "breath") if name in kept}
        return known


class HarpSet:
    """The harps to change between, ``harps`` in the order of their places, counted from 1; never empty."""

    def __init__(self, harps: tuple[HeldHarp, ...]) -> None:
        self.harps = harps

    def place(self, held: HeldHarp) -> int:
        """Its place in the set, 0 for a harp that is none of it."""
        return next((place for place, harp in enumerate(self.harps, start=1) if harp is held), 0)

    def with_other(self, held: HeldHarp, other: HeldHarp) -> HarpSet:
        """The same set with ``other`` in the place of ``held``, if that is in it."""
        return HarpSet(tuple(other if harp is held else harp for harp in self.harps))

    def find(self, wanted: str, now: HeldHarp) -> HeldHarp:
        """The harp that ``wanted`` asks for while ``now`` is in hand.

        ``wanted`` is a place in the set (``2``), ``next``, ``previous``, or a key or harp file as on the command
        line; after a key position and A4 may follow (``Bb third 442``). A key that is not in the set, and any while
        the harp is sought, gives a harp like the first one in that key. Raises UserError with what may be asked for.
        """
        word = wanted.strip().lower()
        if word in {"next", "previous"}:
            # From a harp outside the set, place 0, the next one is the first and the previous one the last.
            place = self.place(now)
            return self.harps[place % len(self.harps) if word == "next" else max(place, 1) - 2]
        if word.isdecimal():
            if not 1 <= int(word) <= len(self.harps):
                raise UserError(f"There is no harp {int(word)}: the set has {len(self.harps)}.")
            return self.harps[int(word) - 1]
        for held in self.harps:
            if held.path is not None and wanted in {held.path, Path(held.path).name}:
                return held
        if is_yaml_file(wanted):
            raise UserError(f"The harp file {wanted!r} is none of the set. Give it with --harps.")
        words = wanted.split()
        if len(words) > _KEY_AND_POSITION and (a4_hz := _as_a4(words[-1])) is not None:
            return self._like("-".join(words[:-2]), words[-2], a4_hz)
        key = find_key(wanted).name
        alike = HeldHarp(self.harps[0].harp.in_key(key))
        return next((held for held in self.harps if held.harp.key == key and not held.sought), alike)

    def _like(self, key: str, position: str, a4_hz: float) -> HeldHarp:
        """A harp like the one in that key, or else like the first one."""
        name = find_key(key).name
        plain = (held.harp for held in self.harps if held.harp.key == name and held.path is None)
        kind = next(plain, self.harps[0].harp)
        return HeldHarp(make_harp(name, position, a4_hz, kind.layout, kind.temperament))


def harp_set(settings: HarpSettings) -> HarpSet:
    """The harps of the settings, which are one unless a set is named.

    Raises UserError with file and line for a harp file or layout file that is wrong.
    """
    names = settings.harps or (settings.key if settings.file is None else settings.file,)
    return HarpSet(tuple(_held(name, settings) for name in names))


def harp_in_hand(settings: HarpSettings) -> Harp:
    """The harp of the settings, the first of a set. Raises UserError like :func:`harp_set`."""
    return harp_set(settings).harps[0].harp


def layout_names() -> tuple[str, ...]:
    """Names of the layouts that come with the program, the plain one first."""
    return RICHTER.name, *sorted(path.stem for path in (resource_folder("config") / _FOLDER).glob("*.yaml"))


def find_layout(wanted: str) -> str:
    """The layout's name as it is spelled here (capitals and spaces do not matter), or the file that it names.

    Raises UserError listing the names when it is neither.
    """
    if is_yaml_file(wanted):
        if Path(wanted).is_file():
            return wanted
    elif (name := wanted.strip().lower().replace(" ", "-").replace("_", "-")) in layout_names():
        return name
    kind = "file" if is_yaml_file(wanted) else "layout"
    allowed = ", ".join(layout_names())
    raise UserError(f"There is no {kind} {wanted!r}. Layouts: {allowed}, or a .yaml file with the rows blow and draw.")


def read_layout(wanted: str) -> Layout:
    """The layout of that name or in that file. Raises UserError like :func:`find_layout`, and for a wrong file."""
    name = find_layout(wanted)
    if name == RICHTER.name:
        return RICHTER
    file = read_yaml(Path(name) if is_yaml_file(name) else resource("config", f"{_FOLDER}/{name}.yaml"))
    return layout_from(name, file.data, file.where)


def _held(name: str, settings: HarpSettings) -> HeldHarp:
    """One harp of the settings, by its key or its file; for ``auto`` the lowest, which hears all that any may play."""
    if not is_yaml_file(name):
        layout = read_layout(settings.layout)
        if name == AUTO:
            return HeldHarp(make_harp(KEYS[0].name, 2, MIDI_A4_HZ, layout, settings.temperament), sought=True)
        return HeldHarp(make_harp(name, settings.position, settings.a4_hz, layout, settings.temperament))
    yaml = read_yaml(Path(name))
    file = read_harp_file(yaml.data, yaml.where)
    try:
        layout = read_layout(_beside(name, file.layout))
    except UserError as error:
        raise UserError(f"{yaml.where(('layout',))}: layout: {error}") from error
    try:
        return HeldHarp(harp_from_file(file, settings.position, layout), name, file)
    except UserError as error:
        raise UserError(f"{name}: {error}") from error


def _as_a4(word: str) -> float | None:
    """``word`` as an A4 in Hz, None when it is none."""
    try:
        number = float(word)
    except ValueError:
        return None
    return number if LOWEST_A4 <= number <= HIGHEST_A4 else None


def _beside(harp_file: str, layout: str) -> str:
    """A layout file that lies beside the harp file that names it; any other as it was named."""
    near = Path(harp_file).parent / layout
    return str(near) if is_yaml_file(layout) and near.is_file() else layout
