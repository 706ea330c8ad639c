"""A new take made of an edit: tables, what was played, its sound, and where it comes from."""

from __future__ import annotations

import shutil
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from bridge import __version__
from bridge.base.errors import UserError
from bridge.base.progress import Progress, share
from bridge.base.writing import written_safely
from bridge.takes.building import built_aside, clear_stopped
from bridge.takes.edited import EditedNote
from bridge.takes.folder import TakeFolder
from bridge.takes.inflections import inflections_csv_lines
from bridge.takes.notes import notes_csv_lines
from bridge.takes.sound_parts import SoundPart, write_parts
from bridge.takes.tables_csv import write_lines
from bridge.takes.take_yaml import TakeFacts, read_take_yaml, write_take_yaml
from bridge.wiring.editing import Edit
from bridge.wiring.notice import Notice
from bridge.wiring.rebuilding import rebuild_take
from bridge.wiring.resung_making import make_placed

#: How much of the work it is to bring the notes of a sound to where they lie now.
_PLACED = 0.5


def write_edited(
    edit: Edit, parent: Path, name: str, notice: Notice = lambda _: None, progress: Progress = lambda _: None
) -> TakeFolder:
    """The new take of an edit, in a new folder in ``parent``; the takes it was made from are only read.

    What is derived from its tables is made too; ``progress`` is told the part of that which is done, 0..1. It is made
    out of sight and there at once: whatever stops it, half a take is never seen. ``notice`` hears when one that was
    stopped earlier is taken away. Raises UserError when it cannot be written.
    """
    clear_stopped(parent, notice)
    try:
        with built_aside(parent, name) as building:
            folder = building.folder
            write_take_yaml(folder.description, _facts(edit))
            made = 0.0 if edit.placed is None else _PLACED
            if edit.sound is not None:
                _write_sound(edit, edit.sound, folder.sound, share(progress, 0.0, made))
            folder.played.path.mkdir()
            _write_tables(folder.played, edit.played)
            _write_tables(folder, edit.notes)
            rest = share(progress, made, 1.0)
            rebuild_take(folder.path, notice, progress=rest, held=(edit.notes, edit.played))
            return building.put_in_place()
    except OSError as error:
        raise UserError(f"{parent / name} cannot be written ({error.strerror}). Choose another folder.") from error


def usual_name(edit: Edit) -> str:
    """What the new take is called where nothing is said: after the first take and the edit."""
    return f"{edit.takes[0].folder.path.resolve().name}-{edit.name}"


def _facts(edit: Edit) -> TakeFacts:
    """What ``take.yaml`` says: all that of the first take, what the edit says otherwise, and the edit itself."""
    first = edit.takes[0].folder
    said: dict[str, object] = {**read_take_yaml(first.description), **edit.facts}
    before = said.get("edited")
    values = {name: value for name, value in edit.values.items() if name != "takes"}
    one = {"edit": edit.name, "made_from": edit.values.get("takes", first.path.resolve().name), **values}
    return TakeFacts(
        source=str(said.get("source", "")),
        harp=_mapping(said.get("harp")),
        settings=_mapping(said.get("settings")),
        versions={**{name: str(of) for name, of in _mapping(said.get("versions")).items()}, "reedwire": __version__},
        harp_changes=_list(said.get("harp_changes")),
        left_out=_list(said.get("left_out")),
        tempo=_mapping(said.get("tempo")),
        edited=[*_list(before), one],
        length_s=_seconds(said.get("length_s")),
    )


def _write_sound(edit: Edit, parts: Sequence[SoundPart], out: Path, progress: Progress) -> None:
    """The parts one after another; a whole file as it is, down to its header."""
    if edit.placed is not None:
        whole = out.with_name(f".{out.name}")
        make_placed(edit.takes[0], edit.placed, whole, progress)
        write_parts([replace(part, path=whole) for part in parts], out)
        whole.unlink()
    elif len(parts) == 1 and parts[0] == SoundPart(parts[0].path):
        shutil.copyfile(parts[0].path, out)
    else:
        write_parts(parts, out)


def _write_tables(folder: TakeFolder, notes: Sequence[EditedNote]) -> None:
    for path, lines in ((folder.notes, notes_csv_lines(notes)), (folder.inflections, inflections_csv_lines(notes))):
        with written_safely(path) as temporary:
            write_lines(temporary, lines)


def _seconds(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) else None


def _mapping(value: object) -> Mapping[str, object]:
    return value if isinstance(value, Mapping) else {}


def _list(value: object) -> list[Mapping[str, object]]:
    return [one for one in value if isinstance(one, Mapping)] if isinstance(value, list) else []
