"""The marks of the notes of a known sound, as the whole chain hears it; and the truth that they are compared with."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from bridge.base.events import AudioBlock, Event
from bridge.base.units import cents_between
from bridge.study.marks import NoteMarks, marks_of
from bridge.study.note_frames import NoteFrames, heard_notes
from bridge.wiring.chain import Chain
from bridge.wiring.settings import Settings
from sounds.known import KnownSound

_BLOCK_S = 0.5


def notes_by_chain(sound: KnownSound, key: str, more: Mapping[str, object] | None = None) -> list[NoteFrames]:
    """The frames of every note that the chain hears on a harp in ``key``, with settings ``more`` (of ``harp``)."""
    settings = Settings.model_validate({"harp": {"key": key, **(more or {})}, "send": {"midi": {"bend_range": 12}}})
    chain = Chain(settings, sound.rate, look_ahead=True)
    events: list[Event] = []
    chain.add_watcher(events.append)
    size = round(_BLOCK_S * sound.rate)
    for start in range(0, len(sound.samples), size):
        chain.feed(AudioBlock(start, sound.rate, sound.samples[start : start + size]))
    chain.finish()
    return heard_notes(events)


def marks_by_chain(sound: KnownSound, key: str, more: Mapping[str, object] | None = None) -> list[NoteMarks]:
    """The marks of each of them."""
    found = [marks_of(frames) for frames in notes_by_chain(sound, key, more)]
    return [marks for marks in found if marks is not None]


def true_cents(sound: KnownSound, at_s: float, root_hz: float) -> float:
    """Where the true pitch lies at ``at_s`` of the sound: cents above the root, from 50 below it on."""
    place = int(np.argmin(np.abs(sound.times_s - at_s)))
    cents = cents_between(float(sound.hz[place]), root_hz)
    return (cents + 50.0) % 1200.0 - 50.0
