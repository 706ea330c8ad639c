"""Rows of bleed: the synth's answer to our own notes, mixed back under the player's sound.

The answer is worked out twice: first to what is sent without any bleed, then to what is sent with that bleed; the
second is what is counted, so that a note held a little longer each time round shows.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from bench.cases import Case, rehearsal_case, sampled_case
from bench.noting import note_figures, quantiser
from bench.peers import follow
from bench.special import Numbers
from bench.wanted import Target
from bridge.base.events import Event, NoteOff, NoteOn, PitchFrame
from bridge.follow.settings import FollowSettings
from bridge.quantise.bleed import BleedGuard, BleedSettings
from sounds.bleed import HARMONICA, LEAD, synth_sound, with_bleed

LEVEL_DB, DELAY_S = -12.0, 0.015
#: A note is held by its echo when its end comes so much later than without any, seconds: the synth needs as long.
HELD_S = 0.06
PASSAGES = ("alternation", "straight third", "released third", "whole range")
_ROUNDS = 2


def bleed(program: int) -> Numbers:
    """One voice of the synth: notes of the player lost, notes begun and notes held by the synth's sound."""
    lost = begun = held = played = 0
    for case in _cases():
        alone = events_of(case, follow(case, FollowSettings()))
        events = alone
        for _ in range(_ROUNDS):
            synth = synth_sound(events, program, case.sound.length_s)
            mixed = replace(case, sound=with_bleed(case.sound, synth, LEVEL_DB, DELAY_S))
            events = events_of(case, follow(mixed, FollowSettings()))
        before, after = (note_figures(case, _ons(made)) for made in (alone, events))
        played += before.played
        lost += max(0, after.missing + after.wrong - before.missing - before.wrong)
        begun += max(0, after.extra - before.extra)
        held += sum(late > HELD_S for late in _later(alone, events))
    return {"played": float(played), "lost": float(lost), "begun": float(begun), "held": float(held)}


def events_of(case: Case, frames: Sequence[PitchFrame]) -> list[Event]:
    """Guard and quantiser, as the chain joins them."""
    chain, guard = quantiser(case), BleedGuard(BleedSettings(guard=True))
    events: list[Event] = []
    for frame in frames:
        for event in chain.step(guard.step(frame)):
            guard.tell(event)
            events.append(event)
    return events + chain.finish(frames[-1].time_s, frames[-1].ready_s)


def _cases() -> list[Case]:
    cases = [sampled_case(name, key) for name in ("phrase", "every hole", "tongued repeats") for key in ("low-F", "A")]
    cases.append(rehearsal_case("A", 1, PASSAGES))
    return [replace(case, sound=replace(case.sound, samples=_longer(case))) for case in cases]


def _longer(case: Case) -> np.ndarray:
    return np.concatenate([case.sound.samples, np.zeros(case.sound.rate, np.float32)])


def _ons(events: Sequence[Event]) -> list[NoteOn]:
    return [event for event in events if isinstance(event, NoteOn)]


def _later(alone: Sequence[Event], mixed: Sequence[Event]) -> list[float]:
    """For each note with bleed: how much later it ends than the note without that began with it, seconds."""
    ends = [_ends(alone), _ends(mixed)]
    late = []
    for on_s, off_s in ends[1]:
        same = [off for on, off in ends[0] if abs(on - on_s) < DELAY_S]
        late += [off_s - off for off in same[:1]]
    return late


def _ends(events: Sequence[Event]) -> list[tuple[float, float]]:
    """(Note On, Note Off) of each note, seconds."""
    begun = {on.note_id: on.ready_s for on in _ons(events)}
    return [(begun[event.note_id], event.ready_s) for event in events if isinstance(event, NoteOff)]


ROWS: dict[str, Callable[[], Numbers]] = {
    "bleed of a lead": lambda: bleed(LEAD),
    "bleed of a sampled harmonica": lambda: bleed(HARMONICA),
}
TARGETS: tuple[Target, ...] = tuple(
    Target(f"{row}: notes {figure}", row, figure, "<=", 0.0) for row in ROWS for figure in ("lost", "begun", "held")
)
