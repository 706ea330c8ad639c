"""Rows of octaves where there is time to wait for the lower reed: in a recording, and live with the steady delay.

A note is right when one Note On alone is dated into it, and it is the lower reed's. Sounds: every two holes an octave
apart, blown and drawn, alike and with either reed 6 dB softer (``sounds.doubles``).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np

from bench.cases import Case
from bench.doubles import CONDITIONS, KEYS, midi_of
from bench.noting import quantiser
from bench.peers import follow
from bench.special import Numbers
from bench.wanted import Target
from bridge.base.events import Event, NoteOn, PitchFrame
from bridge.follow.settings import FollowSettings
from bridge.quantise.hearing import Hearing
from bridge.quantise.settings import QuantiseSettings
from bridge.quantise.steady import SteadyDelay
from sounds import doubles

#: Recorded reeds begin up to 16 ms before their nominal attack, and there a note is dated by where it begins.
_EARLY_S = 0.04


def waited_for(condition: str) -> Numbers:
    """The same octaves where there is time, in a recording and with the steady delay: percent that are one note."""
    recorded: list[bool] = []
    steady: list[bool] = []
    for key in KEYS:
        for levels in ((0.0, 0.0), (0.0, -6.0), (-6.0, 0.0)):
            case = Case(doubles.together(doubles.octaves(), key, levels), key, 440.0).dirtied(condition)
            frames = follow(case, FollowSettings())
            ahead = Hearing(QuantiseSettings().unhurried(), tells_reeds=True, look_ahead=True)
            chain = quantiser(case)
            given = [heard for frame in frames for heard in ahead.step(frame)] + ahead.finish()
            recorded += _is_one_each(case, [event for frame in given for event in chain.step(frame)])
            steady += _is_one_each(case, _steadily(case, frames))
    return {
        "notes": float(len(recorded)),
        "recording, one note %": 100.0 * float(np.mean(recorded)),
        "steady delay, one note %": 100.0 * float(np.mean(steady)),
    }


def _steadily(case: Case, frames: Sequence[PitchFrame]) -> list[Event]:
    """The events of a live performance with the steady delay."""
    settings = QuantiseSettings()
    delay = SteadyDelay(settings.steady_ms / 1000.0)
    hearing, chain = Hearing(settings, tells_reeds=True, look_ahead=False), quantiser(case)
    sent: list[Event] = []
    for frame in frames:
        for heard in hearing.step(frame):
            for event in chain.step(heard):
                delay.hold(event)
        sent += delay.due(frame.ready_s)
    return sent + delay.rest(case.sound.length_s)


def _is_one_each(case: Case, events: Sequence[Event]) -> list[bool]:
    """For each note whether one note alone began in its time, the lower reed's."""
    ons = [event for event in events if isinstance(event, NoteOn)]
    return [
        [on.midi_note for on in ons if note.attack_s - _EARLY_S <= on.time_s < note.end_s] == [midi_of(note)]
        for note in case.sound.notes
    ]


ROWS: dict[str, Callable[[], Numbers]] = {
    f"octaves waited for, {condition}": partial(waited_for, condition) for condition in CONDITIONS
}

TARGETS: tuple[Target, ...] = tuple(
    Target(
        f"octaves as one note where there is time, {condition}, {where}, %",
        f"octaves waited for, {condition}",
        f"{where}, one note %",
        ">=",
        99.0,
    )
    for condition in CONDITIONS
    for where in ("recording", "steady delay")
)
