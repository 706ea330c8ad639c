"""The pitches that were held in a phrase: where the player stayed, and for how long."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bridge.base.events import Event, NoteOff, NoteOn, PitchPoint
from bridge.base.units import MIDI_A4_HZ, cents_between, hz_above

#: Pitches within this many cents are one held pitch: a wide vibrato or the settling of a reed fits in.
_WINDOW_CENTS = 100.0
#: Shorter than this, in seconds, a pitch is passed through, not held.
_SHORTEST_S = 0.06
_SAME_CENTS = 50.0


@dataclass(frozen=True, slots=True)
class Held:
    """A pitch that was held: its median in Hz, how long in seconds, and how far it strayed.

    ``spread_cents`` is one standard deviation, vibrato included; ``start_s`` is when the pitch was first there, in
    seconds of the stream.
    """

    hz: float
    length_s: float
    spread_cents: float = 0.0
    start_s: float = 0.0


class HeldPitches:
    """Takes the events of one stream in order and gives the pitches of each note when it has ended.

    Of its points only those ``every_s`` seconds apart count, and none later than ``first_s`` into the note: enough to
    know where it was held, and a bounded effort.
    """

    def __init__(self, every_s: float = 0.0, first_s: float = math.inf) -> None:
        self._every_s = every_s
        self._first_s = first_s
        self._points: list[PitchPoint] = []
        self._sounds = False

    def take(self, event: Event) -> list[Held]:
        """The pitches of the note that ends with this event, in the order of time; mostly none."""
        match event:
            case PitchPoint() if self._sounds and event.hz > 0.0:
                if not self._points or self._is_wanted(event.time_s):
                    self._points.append(event)
                return []
            case NoteOn() | NoteOff():
                return self._end(sounds=isinstance(event, NoteOn))
            case _:
                return []

    def finish(self) -> list[Held]:
        """The pitches of the note that still sounds."""
        return self._end(sounds=False)

    def _is_wanted(self, time_s: float) -> bool:
        first, last = self._points[0], self._points[-1]
        return time_s - last.time_s >= self._every_s and time_s - first.time_s <= self._first_s

    def _end(self, *, sounds: bool) -> list[Held]:
        points, self._points, self._sounds = self._points, [], sounds
        return _dwelt(points)


def held_pitches(events: Iterable[Event]) -> list[Held]:
    """Every pitch held in the notes among ``events``, in the order of time.

    A note that dwells at several pitches, such as a third begun low and released, gives one for each; glides between
    them and pitches outside the notes give none.
    """
    pitches = HeldPitches()
    return [held for event in events for held in pitches.take(event)] + pitches.finish()


def different_pitches(held: Iterable[Held]) -> int:
    """How many different pitches there are among those held, a quarter tone and more apart."""
    pitches = sorted(cents_between(note.hz, MIDI_A4_HZ) for note in held)
    return bool(pitches) + sum(after - before > _SAME_CENTS for before, after in pairwise(pitches))


def _dwelt(points: list[PitchPoint]) -> list[Held]:
    """The pitches at which one note dwelt, by time."""
    if len(points) < 2:
        return []
    times = np.array([point.time_s for point in points])
    cents = np.array([cents_between(point.hz, points[0].hz) for point in points])
    step_s = float(times[-1] - times[0]) / (len(points) - 1)
    held: list[Held] = []
    while len(cents) * step_s >= _SHORTEST_S:
        inside = _fullest_window(cents)
        length_s = float(np.count_nonzero(inside)) * step_s
        if length_s < _SHORTEST_S:
            break
        middle, spread = float(np.median(cents[inside])), float(np.std(cents[inside]))
        held.append(Held(hz_above(points[0].hz, middle), length_s, spread, float(times[inside][0])))
        times, cents = times[~inside], cents[~inside]
    return sorted(held, key=_start)


def _fullest_window(cents: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which of the pitches, shape (n,), lie in the window that holds the most of them."""
    ordered = np.sort(cents)
    counts = np.searchsorted(ordered, ordered + _WINDOW_CENTS, side="right") - np.arange(len(ordered))
    low = ordered[int(np.argmax(counts))]
    return np.asarray((cents >= low) & (cents <= low + _WINDOW_CENTS))


def _start(held: Held) -> float:
    return held.start_s
