"""Notes that no hole gives: what is told of their reed says so."""

from __future__ import annotations

from bridge.takes.edited import EditedNote

#: A straight reed farther than this from where a note settles does not give it, cents: half way to the next key.
_OUT_OF_REACH_CENTS = 50.0


def out_of_reach(note: EditedNote) -> bool:
    """Whether nothing on the harp gives the note, so that its row tells the nearest straight reed."""
    return note.reed == "straight" and abs(note.reed_bend_cents or 0.0) > _OUT_OF_REACH_CENTS
