"""Frames as a follower gives them, from a pitch over time, and what every run of events must keep."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from typing import TypeVar

from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchFrame, PitchPoint
from bridge.quantise.quantiser import Quantiser
from bridge.quantise.scales import find_scale
from bridge.quantise.settings import QuantiseSettings

#: Frames a second: a hop of 64 samples at 48 kHz.
RATE = 750
#: Cross position on a C harp: G4.
ROOT_HZ = 440.0 * 2.0 ** (-2 / 12)
ROOT_MIDI = 67
DELAY_S = 0.006

_E = TypeVar("_E", bound=Event)


def quantiser(
    settings: Mapping[str, object] | None = None,
    *,
    bend_range_cents: float = 200.0,
    root_hz: float = ROOT_HZ,
    root_midi: int = ROOT_MIDI,
) -> Quantiser:
    """A quantiser over the cross root of a C harp, default settings unless told otherwise."""
    made = QuantiseSettings.model_validate(settings or {})
    scale = find_scale(made.scale, made.scales)
    return Quantiser(scale, root_hz=root_hz, root_midi=root_midi, settings=made, bend_range_cents=bend_range_cents)


def frame(time_s: float, cents: float | None, *, level_db: float = -20.0, attack: bool = False) -> PitchFrame:
    """One frame; ``cents`` above the root, None for silence."""
    hz = 0.0 if cents is None else ROOT_HZ * 2.0 ** (cents / 1200.0)
    return PitchFrame(time_s, time_s + DELAY_S, hz, level_db, 0.9, 1.0, 0.5, attack)


def frames(
    cents: Callable[[float], float | None], seconds: float, *, start_s: float = 0.0, attack: bool = True
) -> list[PitchFrame]:
    """Frames of one sound whose pitch is ``cents(seconds since its start)``; the first is an attack if told so."""
    count = round(seconds * RATE)
    made = []
    for index in range(count):
        at = cents(index / RATE)
        level = -120.0 if at is None else -20.0
        made.append(frame(start_s + index / RATE, at, level_db=level, attack=attack and index == 0))
    return made


def run(player: Quantiser, played: Iterable[PitchFrame]) -> list[Event]:
    """All events of the frames, the end included, after checking what must always hold."""
    events: list[Event] = []
    last = 0.0
    for item in played:
        step = player.step(item)
        assert isinstance(step[0], PitchPoint)
        assert sum(isinstance(event, PitchPoint) for event in step) == 1
        events += step
        last = events[-1].ready_s
    events += player.finish(last, last)
    check(events)
    return events


def only(kind: type[_E], events: Iterable[Event]) -> list[_E]:
    """The events of one kind, in order."""
    return [event for event in events if isinstance(event, kind)]


def check(events: list[Event]) -> None:
    """What every run of events keeps, whatever was played."""
    ready = point_time = note_time = 0.0
    sounding: int | None = None
    seen: set[int] = set()
    for event in events:
        assert event.ready_s >= ready
        assert event.ready_s >= event.time_s
        ready = event.ready_s
        if isinstance(event, PitchPoint):
            assert event.time_s >= point_time
            point_time = event.time_s
            _check_point(event)
            continue
        assert event.time_s >= note_time
        note_time = event.time_s
        if isinstance(event, NoteOn):
            assert sounding is None
            assert event.note_id not in seen
            seen.add(event.note_id)
            sounding = event.note_id
            assert 0 <= event.midi_note <= 127
            assert 0.0 < event.velocity <= 1.0
            assert event.degree == event.inflection.degree
            _check_inflection(event.inflection, sounding)
            assert event.inflection.time_s >= event.time_s
            note_time = event.inflection.time_s
        elif isinstance(event, NoteOff):
            assert event.note_id == sounding
            sounding = None
        else:
            _check_inflection(event, sounding)
    assert sounding is None


def _check_point(point: PitchPoint) -> None:
    assert 0.0 <= point.hz < math.inf
    assert math.isfinite(point.cents)
    assert point.hz > 0.0 or point.cents == 0.0
    assert -120.0 <= point.level_db < math.inf
    assert 0.0 <= point.clean <= 1.0


def _check_inflection(inflection: Inflection, sounding: int | None) -> None:
    assert inflection.note_id == sounding
    assert math.isfinite(inflection.bend_cents)
    assert 0.0 <= inflection.blueness <= 1.0
    assert -1.0 <= inflection.lean <= 1.0
    assert 0.0 <= inflection.breath <= 1.0
    assert 0.0 <= inflection.bright <= 1.0
