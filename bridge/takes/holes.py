"""Notes that no hole gives, and holes that the harp does not have."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from bridge.harp.harp import Harp
from bridge.harp.reeds import bends_down, is_straight
from bridge.takes.edited import EditedNote
from bridge.takes.tables import RowFault


def out_of_reach(note: EditedNote) -> bool:
    """Whether nothing on the harp gives the note, so that its row tells the nearest straight reed."""
    return note.reed == "straight" and not is_straight(note.reed_bend_cents or 0.0)


def without_reed(note: EditedNote) -> EditedNote:
    """The note with nothing told of its reed."""
    return replace(note, hole=None, air="", reed="", reed_bend_cents=None, or_else="")


def hole_faults(note: EditedNote, harp: Harp | None) -> Iterator[RowFault]:
    """What the row of a note says of its hole that its harp does not have; nothing where that is not known."""
    if harp is None or note.hole is None:
        return
    holes = len(harp.layout.blow)
    if note.hole > holes:
        yield RowFault("hole", note.hole, f"1 to {holes}, the holes of the {harp.name}")
        return
    blow, draw = harp.reeds[2 * note.hole - 2 : 2 * note.hole]
    bent, other = (blow, draw) if bends_down(harp, blow) else (draw, blow)
    # An overblow lets the other reed of the hole sound, and that is the higher one (common practice, no source).
    air = {"bend": bent.air, "overblow": "blow", "overdraw": "draw"}.get(note.reed, note.air)
    over = {"blow": "overdraw", "draw": "overblow"}[bent.air]
    if note.air != air or note.reed in {"overblow", "overdraw"} - {over}:
        yield RowFault(
            "hole, air, reed",
            f"{note.air} {note.hole} {note.reed}",
            f"{bent.air} {note.hole} bend, {other.air} {note.hole} {over}, or straight: hole {note.hole} of the "
            f"{harp.name} has no other",
        )
