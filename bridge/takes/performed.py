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
from bridge.base.units import clip
from bridge.quantise.settings import QuantiseSettings
from bridge.quantise.slots import Place, Scale
from bridge.quantise.third import ThirdZone, blue_zones, blueness, lean, with_third
from bridge.takes.edited import EditedNote

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
    at_s = sample_times(note, step_s)
    degrees = None if heard is None else _Degrees(heard, note)
    if degrees is not None and degrees.moves_late:
        at_s = np.union1d(at_s, degrees.late_s)
    corners = [point.at_s for point in note.points]
    bends = np.interp(at_s, corners, [point.bend_cents for point in note.points])
    breaths = np.interp(at_s, corners, [point.breath for point in note.points])
    for moment, bend, breath in zip(at_s.tolist(), bends.tolist(), breaths.tolist(), strict=True):
        time_s = min(note.start_s + moment, end_s)
        degree, blue, side = (note.degree, 0.0, 0.0) if degrees is None else degrees.at(moment, bend)
        value = Inflection(note.id, time_s, time_s, bend, degree, blue, side, clip(breath, 0.0, 1.0), _BRIGHT)
        if moment > 0.0:
            yield value
        else:
            yield NoteOn(note.id, time_s, time_s, note.midi_note, note.velocity / _TOP_VELOCITY, value)
    yield NoteOff(note.id, end_s, end_s)


def sample_times(note: EditedNote, step_s: float) -> NDArray[np.float64]:
    """When the values of a note go out, in seconds from its start, shape (n,), the first of them 0.

    At every breakpoint inside the note, at its end while the curve still moves there, and evenly spaced between.
    """
    inside = [point.at_s for point in note.points if 0.0 < point.at_s <= note.length_s]
    if note.points[-1].at_s > note.length_s > 0.0:
        inside.append(note.length_s)
    parts = [np.zeros(1)]
    for begin, end in pairwise([0.0, *inside]):
        steps = max(1, math.ceil((end - begin) / step_s - 1e-9))
        parts.append(np.linspace(begin, end, steps + 1)[1:])
    return np.concatenate(parts)


class _Degrees:
    """Degree, blueness and lean along a note, as the quantiser tells them."""

    def __init__(self, heard: Hearing, note: EditedNote) -> None:
        self._heard = heard
        self._anchor = _CENTS_PER_SEMITONE * (note.midi_note - heard.root_midi)
        self._place: Place = heard.scale.place(self._anchor)
        self._arrives_s = heard.arrival_s
        self.late_s = heard.arrival_s + _JUST_AFTER_S
        late_cents = self._anchor + note.at(self.late_s).bend_cents
        #: Whether it is held, by then, away from where it began: a value must tell the degree that it is at.
        self.moves_late = self.late_s < note.length_s and not self._place.keeps(late_cents)

    def at(self, at_s: float, bend_cents: float) -> tuple[str, float, float]:
        """Of the value ``at_s`` after the start; call in order."""
        cents = self._anchor + bend_cents
        if self._place.keeps(cents):
            self._arrives_s = -math.inf
        elif at_s > self._arrives_s:
            self._place = self._heard.scale.place(cents)
        degree = self._place.slot.degree
        zone = self._heard.zones.get(degree)
        return (degree, blueness(cents, zone), lean(cents, zone)) if zone else (degree, 0.0, 0.0)
