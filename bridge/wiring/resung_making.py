"""``resung.wav`` of a take: its sound with the notes as its tables have them now."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from bridge.base.units import MIDI_A4_HZ, hz_above
from bridge.takes.edited import EditedNote
from bridge.takes.performed import in_force
from bridge.takes.resinging import BREATH_DB, Resung, resing
from bridge.takes.sung_from import sound_digest
from bridge.wiring.notice import Notice
from bridge.wiring.on_harp import quantise_on
from bridge.wiring.opening import OpenedTake
from bridge.wiring.played_notes import played_notes

NAME = "resung.wav"
_MOST_NAMED = 8


def is_wanted(take: OpenedTake) -> bool:
    """Whether there is a sound to sing again, and something that is heard in it was edited, now or the last time."""
    return take.folder.sound.exists() and (is_another_to_hear(take) or take.folder.resung.exists())


def is_another_to_hear(take: OpenedTake) -> bool:
    """Whether something was edited that is heard: not so velocities and holes."""
    played = played_notes(take)
    # Of an hour that is untouched the digests need not be worked out.
    return take.notes != played and sound_digest(take.notes) != sound_digest(played)


def make_resung(take: OpenedTake, out: Path, progress: Callable[[float], None], notice: Notice) -> None:
    """Write ``out``; ``notice`` hears what could not be sung. Raises what :func:`resing` does."""
    for line in _words(_resung(take, take.notes, out, progress)):
        notice(line)


def make_placed(
    take: OpenedTake, notes: Sequence[EditedNote], out: Path, progress: Callable[[float], None] = lambda _: None
) -> None:
    """Write the sound of a take with ``notes`` where they lie now into ``out``. Raises what :func:`resing` does."""
    _resung(take, notes, out, progress)


def _resung(take: OpenedTake, notes: Sequence[EditedNote], out: Path, progress: Callable[[float], None]) -> Resung:
    return resing(
        take.folder.sound,
        out,
        played_notes(take),
        notes,
        a4_hz=lambda time_s: _a4_hz(take, time_s),
        breath_db=_breath_db(take),
        progress=progress,
    )


def _a4_hz(take: OpenedTake, time_s: float) -> float:
    """The A4 that bends are counted from: that of the straight root of the harp in hand, which may be off its own."""
    harps = [one for one in take.harps if one.since_s <= time_s] or list(take.harps)
    harp = harps[-1].harp if harps else None
    return MIDI_A4_HZ if harp is None else hz_above(MIDI_A4_HZ, harp.sharp_cents)


def _breath_db(take: OpenedTake) -> float:
    """How much louder a breath of 1 is than one of 0, dB; as usual where breath does not follow the level."""
    if take.settings.quantise.breath.constant is not None:
        return BREATH_DB
    first = in_force(take.notes[0], take.harps) if take.notes else None
    settings = take.settings.quantise if first is None or first.held is None else quantise_on(take.settings, first.held)
    floor_db, ceiling_db = settings.breath.marks_db()
    return ceiling_db - floor_db


def _words(done: Resung) -> list[str]:
    """What is not in the sound as it is in the tables."""
    lines = []
    if done.unsung:
        more = len(done.unsung) - _MOST_NAMED
        named = ", ".join(map(str, done.unsung[:_MOST_NAMED])) + (f" and {more} more" if more > 0 else "")
        which = "note" if len(done.unsung) == 1 else "notes"
        lines.append(f"{NAME}: there is no sound of what was added, so it is silent there: {which} {named}.")
    if done.unheard:
        where = "stretch" if done.unheard == 1 else "stretches"
        lines.append(f"{NAME}: no pitch was found in {done.unheard} {where}, left as played.")
    return lines
