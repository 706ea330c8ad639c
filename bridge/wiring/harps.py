"""The harp that the settings name, and the layouts it may have: those of ``config/layouts/`` or a file of one's own."""

from __future__ import annotations

from pathlib import Path

from bridge.base.errors import UserError
from bridge.base.resources import resource, resource_folder
from bridge.base.yaml_file import read_yaml
from bridge.harp.harp import Harp, make_harp
from bridge.harp.layout import RICHTER, Layout, layout_from
from bridge.harp.settings import HarpSettings

_FOLDER = "layouts"


def harp_in_hand(settings: HarpSettings) -> Harp:
    """The harp of the settings. Raises UserError with file and line for a layout file that is wrong."""
    layout = read_layout(settings.layout)
    return make_harp(settings.key, settings.position, settings.a4_hz, layout, settings.temperament)


def layout_names() -> tuple[str, ...]:
    """Names of the layouts that come with the program, the plain one first."""
    return RICHTER.name, *sorted(path.stem for path in (resource_folder("config") / _FOLDER).glob("*.yaml"))


def find_layout(wanted: str) -> str:
    """The layout's name as it is spelled here (capitals and spaces do not matter), or the file that it names.

    Raises UserError listing the names when it is neither.
    """
    if _is_file(wanted):
        if Path(wanted).is_file():
            return wanted
    elif (name := wanted.strip().lower().replace(" ", "-").replace("_", "-")) in layout_names():
        return name
    kind = "file" if _is_file(wanted) else "layout"
    allowed = ", ".join(layout_names())
    raise UserError(f"There is no {kind} {wanted!r}. Layouts: {allowed}, or a .yaml file with the rows blow and draw.")


def read_layout(wanted: str) -> Layout:
    """The layout of that name or in that file. Raises UserError like :func:`find_layout`, and for a wrong file."""
    name = find_layout(wanted)
    if name == RICHTER.name:
        return RICHTER
    file = read_yaml(Path(name) if _is_file(name) else resource("config", f"{_FOLDER}/{name}.yaml"))
    return layout_from(name, file.data, file.where)


def _is_file(wanted: str) -> bool:
    return Path(wanted).suffix.lower() in {".yaml", ".yml"}
