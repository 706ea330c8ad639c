"""``reedwire edit transpose``: a take as it would be on another harp."""

from __future__ import annotations

from bridge.base.errors import UserError
from bridge.cli.edit_options import DryRun, Name, Out, Take, finish, open_to_edit
from bridge.cli.options import A4, Harp, HarpFile, Position, settings_from
from bridge.harp.harp import Harp as HeldHarp
from bridge.wiring.editing import edit_harp


def transpose(
    take: Take,
    harp: Harp = None,
    harp_file: HarpFile = None,
    position: Position = None,
    a4: A4 = None,
    out: Out = None,
    name: Name = None,
    dry_run: DryRun = False,
) -> None:
    """Take a take over to another harp or position.

    Notes move with the root, each bent from its degree on the other harp as it was on the old one; holes are told anew,
    and the sound is sung again. What is not said stays as it is on the harp of the take. What cannot be played there is
    told, and kept all the same.
    """
    if not any((harp, harp_file, position, a4)):
        raise UserError("Say to which harp: --harp KEY, --harp-file FILE, --position POSITION, or several of these.")
    opened = open_to_edit(take)
    first = opened.harps[0].harp
    granted = {} if first is None else _as_granted(first)
    settings = settings_from(None, [], granted, harp=harp, harp_file=harp_file, position=position, a4=a4)
    wanted = settings.harp.model_copy(update={"tab": opened.settings.harp.tab})
    finish(lambda: edit_harp(opened, wanted), out, name, dry_run=dry_run)


def _as_granted(harp: HeldHarp) -> dict[str, object]:
    """The settings that make this harp, but for what was measured on it."""
    return {
        "harp.key": harp.key,
        "harp.position": harp.position,
        "harp.a4_hz": harp.a4_hz,
        "harp.layout": harp.layout.name,
        "harp.temperament": harp.temperament,
    }
