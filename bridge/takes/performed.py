"""From a take's tables back to the events that play it: what is rebuilt, re-sung and replayed.

A curve goes out in steps: at each breakpoint, and between two as many evenly spaced values as ``step_s`` asks for.
Degree, blueness and lean follow from the bend, by the rules of quantise. Brightness is in no table: it stays at 0.5,
the middle of its controller.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, pairwise
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from bridge.base.events import Inflection, NoteOff, NoteOn
from bridge.base.units import CENTS_PER_OCTAVE, clip
from bridge.quantise.settings import QuantiseSettings
from bridge.quantise.slots import Place, Scale
from bridge.quantise.third import ThirdZone, blue_zones, blueness, lean, with_third
from bridge.takes.edited import EditedNote

Array = NDArray[np.float64]

#: How far apart the values of a curve are, unless told otherwise, in seconds: as often as they go out live.
STEP_S = 0.004
_BRIGHT = 0.5
_JUST_AFTER_S = 0.001
_CENTS_PER_SEMITONE = 100.0
_TOP_VELOCITY = 127.0
#: Times in the tables have five decimals; what is nearer than two of their last digit is at the same time, s.
_SAME_S = 2e-5


class _Since(Protocol):
    @property
    def since_s(self) -> float: ...


Begun = TypeVar("Begun", bound=_Since)


@dataclass(frozen=True, slots=True)
class Hearing:
    """How a bend is heard from ``since_s`` on, in seconds of the take: above which root, in which scale.

    ``root_midi`` is the MIDI note of the root, ``zones`` the blue zone of each degree that has one; for ``arrival_s``
    a note keeps the degree it began for.
    """

    since_s: float
    root_midi: int
    scale: Scale
    zones: Mapping[str, ThirdZone]
    arrival_s: float

    def anchor(self, note: EditedNote) -> float:
        """Where the number of a note sits, cents above the root."""
        return _CENTS_PER_SEMITONE * (note.midi_note - self.root_midi)

    def begun(self, note: EditedNote) -> Place:
        """The place that a note begins for."""
        return self.scale.place(self.anchor(note))


def hearing(since_s: float, root_midi: int, scale: Scale, settings: QuantiseSettings) -> Hearing:
    """How the quantiser hears on a harp; ``settings`` with numbers for all that they leave to it (``for_harp``)."""
    zones = blue_zones(settings)
    wide = with_third(scale, zones["3"].straight)
    return Hearing(since_s, root_midi, wide, zones, settings.onset.arrival_ms / 1000.0)


def performed(
    notes: Iterable[EditedNote], hearings: Sequence[Hearing], *, step_s: float = STEP_S
) -> Iterator[NoteOn | Inflection | NoteOff]:
    """The events of ``notes``, which come in order and do not overlap; every NoteOn gets its NoteOff.

    ``hearings`` are those of the harps of the take, in order of time; without any, a note keeps the degree it has in
    the table and is never blue. ``step_s`` is the most that two values of a moving curve are apart, in seconds; each
    event is ready when it happens. Raises ValueError for a step that is not above 0.
    """
    if not step_s > 0.0:
        raise ValueError(f"a step of {step_s} s never ends")
    for note, after in pairwise(chain(notes, [None])):
        if note is not None:
            # Start and length are rounded on their own, so that by a last digit a note may seem to outlast its end.
            end_s = note.end_s if after is None else min(note.end_s, after.start_s)
            yield from _one(note, end_s, in_force(note, hearings), step_s)


def in_force(note: EditedNote, begun: Sequence[Begun]) -> Begun | None:
    """What of ``begun``, in order of time, held for ``note``; the first where none had begun, None of nothing.

    A change ends what sounds, so that a note which ends after it belongs to it.
    """
    earlier = [one for one in begun if one.since_s < note.end_s - _SAME_S]
    return earlier[-1] if earlier else next(iter(begun), None)


def _one(
    note: EditedNote, end_s: float, heard: Hearing | None, step_s: float
) -> Iterator[NoteOn | Inflection | NoteOff]:
    """The events of one note."""
    at_s, bends = sampled(note, heard, step_s)
    corners_s, _, blown = note.columns
    breaths = np.interp(at_s, corners_s, blown)
    plain = [(note.degree, 0.0, 0.0)] * len(at_s)
    told: Iterable[tuple[str, float, float]] = plain if heard is None else _told(heard, note, at_s, bends)
    for moment, bend, breath, (degree, blue, side) in zip(
        at_s.tolist(), bends.tolist(), breaths.tolist(), told, strict=True
    ):
        time_s = min(note.start_s + moment, end_s)
        value = Inflection(note.id, time_s, time_s, bend, degree, blue, side, clip(breath, 0.0, 1.0), _BRIGHT)
        if moment > 0.0:
            yield value
        else:
            yield NoteOn(note.id, time_s, time_s, note.midi_note, note.velocity / _TOP_VELOCITY, value)
    yield NoteOff(note.id, end_s, end_s)


def sample_times(note: EditedNote, step_s: float) -> Array:
    """When the values of a note go out, in seconds from its start, shape (n,), the first of them 0.

    At every breakpoint inside the note, at its end while the curve still moves there, and evenly spaced between.
    """
    times = note.columns[0].tolist()
    inside = [at_s for at_s in times if 0.0 < at_s <= note.length_s]
    if times[-1] > note.length_s > 0.0:
        inside.append(note.length_s)
    parts = [np.zeros(1)]
    for begin, end in pairwise([0.0, *inside]):
        steps = max(1, math.ceil((end - begin) / step_s - 1e-9))
        parts.append(np.linspace(begin, end, steps + 1)[1:])
    return np.concatenate(parts)


@dataclass(frozen=True, slots=True)
class Stay:
    """A part of a note at one ``place``: its values from ``first`` to before ``last``, counted from 0."""

    place: Place
    first: int
    last: int


def sampled(note: EditedNote, heard: Hearing | None, step_s: float) -> tuple[Array, Array]:
    """When the values of a note go out, in seconds from its start, and the bends there in cents, both of shape (n,)."""
    at_s = sample_times(note, step_s)
    if heard is not None:
        late_s = heard.arrival_s + _JUST_AFTER_S
        # Held, by then, away from where it began: a value must tell the degree that it is at.
        if late_s < note.length_s and not heard.begun(note).keeps(heard.anchor(note) + note.at(late_s).bend_cents):
            at_s = np.union1d(at_s, late_s)
    corners_s, corners, _ = note.columns
    return at_s, np.interp(at_s, corners_s, corners)


def stays(heard: Hearing, note: EditedNote, at_s: Array, bends: Array) -> Iterator[Stay]:
    """Where a note with these ``bends`` (cents) at ``at_s`` (seconds from its start) is, as the quantiser tells it."""
    cents = heard.anchor(note) + bends
    place, first = heard.begun(note), 0
    arrived: NDArray[np.bool_] = at_s > heard.arrival_s
    while first < len(cents):
        within = cents[first:] - CENTS_PER_OCTAVE * place.octave
        kept = (place.slot.stay_low <= within) & (within <= place.slot.stay_high)
        left = ~kept & (arrived[first:] | np.logical_or.accumulate(kept))
        if first:
            # The value that has moved it here.
            left[0] = False
        last = first + int(np.argmax(left)) if left.any() else len(cents)
        if last > first:
            yield Stay(place, first, last)
        if last < len(cents):
            place, arrived = heard.scale.place(float(cents[last])), np.ones(len(cents), np.bool_)
        first = last


def _told(heard: Hearing, note: EditedNote, at_s: Array, bends: Array) -> Iterator[tuple[str, float, float]]:
    """Degree, blueness and lean of each value."""
    cents = (heard.anchor(note) + bends).tolist()
    for stay in stays(heard, note, at_s, bends):
        degree = stay.place.slot.degree
        zone = heard.zones.get(degree)
        for value in cents[stay.first : stay.last]:
            yield (degree, blueness(value, zone), lean(value, zone)) if zone else (degree, 0.0, 0.0)
