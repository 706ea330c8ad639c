"""The held pitches of a made-up phrase: exactly as it is written, or as the whole chain hears it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from bridge.base.events import AudioBlock, Event, Inflection, NoteOff, NoteOn, PitchPoint
from bridge.base.units import midi_to_hz
from bridge.study.held import Held, held_pitches
from bridge.wiring.chain import Chain
from bridge.wiring.settings import Settings
from sounds.known import KnownSound
from sounds.phrases import written
from sounds.scores import Score

#: Spacing of the exact curve.
STEP_S = 0.004
_BLOCK_S = 0.5


def exactly(score: Score) -> list[Held]:
    """The pitches held in a score, as the exact curve of each note gives them."""
    return held_pitches(event for number in range(len(score)) for event in heard_events(number, score))


def exactly_tab(tab: str, key: str) -> list[Held]:
    """The pitches held in a line of tab (``sounds.riffs``), every note 0.3 s; ``#`` raises a note by a semitone."""
    return exactly(written(tab, key))


def by_the_chain(sound: KnownSound) -> list[Held]:
    """The pitches held in a sound, as follower and quantiser hear them without knowing the harp.

    The floor lies a semitone under the lowest harp's lowest reed, low C (C3, 130.81 Hz by MIDI 1.0, 4.2.1).
    """
    settings = Settings.model_validate({"follow": {"floor_hz": 123.0}, "send": {"midi": {"bend_range": 12}}})
    chain = Chain(settings, sound.rate, look_ahead=True)
    events: list[Event] = []
    chain.add_watcher(events.append)
    size = round(_BLOCK_S * sound.rate)
    for start in range(0, len(sound.samples), size):
        chain.feed(AudioBlock(start, sound.rate, sound.samples[start : start + size]))
    chain.finish()
    return held_pitches(events)


def heard_events(number: int, score: Score) -> Iterator[Event]:
    """The events of one note of a score."""
    note = score[number]
    start, end = note.start_s, note.start_s + note.length_s
    yield NoteOn(number, start, start, note.midi, 0.75, Inflection(number, start, start, 0.0, "1", 0.0, 0.0, 0.0, 0.0))
    since = np.arange(0.0, note.length_s, STEP_S)
    for at, cents in zip(since.tolist(), note.bend.at(since).tolist(), strict=True):
        yield PitchPoint(start + at, start + at, midi_to_hz(note.midi + cents / 100.0), 0.0, -20.0, 1.0)
    yield NoteOff(number, end, end)
