"""The tab under a written note: its hole, and how far the reed is bent where the note stays at that moment."""

from __future__ import annotations

from dataclasses import replace
from typing import cast

from bridge.base.units import cents_between
from bridge.harp.bends import Air, Kind
from bridge.harp.harp import Harp
from bridge.harp.reeds import SAG, ReedReading, bends_down, is_straight
from bridge.harp.tab import Convention, tab
from bridge.takes.edited import EditedNote

_CENTS_PER_SEMITONE = 100.0
_UNKNOWN = "?"


def tab_of(note: EditedNote, convention: Convention) -> str:
    """The tab of ``note`` as its table tells it; ``?`` where that tells no hole."""
    if note.hole is None or not note.air:
        return _UNKNOWN
    kind, bend_cents = note.reed or "straight", note.reed_bend_cents or 0.0
    reading = ReedReading(note.hole, cast("Air", note.air), bend_cents, cast("Kind", kind))
    return tab(replace(reading, rival=reading) if note.or_else else reading, convention)


def moved_tab(note: EditedNote, convention: Convention, cents: float, harp: Harp | None) -> str:
    """The tab of ``note`` at a moment at ``cents``, 100 a MIDI note over the root of ``harp``, if that is known."""
    reed = next((reed for reed in harp.reeds if (reed.hole, reed.air) == (note.hole, note.air)), None) if harp else None
    if harp is None or reed is None or note.reed in {"overblow", "overdraw"}:
        return tab_of(note, convention)
    bend_cents = cents - _CENTS_PER_SEMITONE * harp.root_midi - cents_between(reed.hz, harp.root_hz)
    kind = "straight" if is_straight(bend_cents) or bend_cents > 0.0 else "bend"
    if kind == "bend" and not bends_down(harp, reed):
        if bend_cents < -SAG:
            return _UNKNOWN
        kind = "straight"
    return tab_of(replace(note, reed=kind, reed_bend_cents=bend_cents), convention)
