"""Rows of bleed: the synth's answer to our own notes, mixed back under the player's sound.

The loop is closed as it is in a room: what is heard up to one instant decides what is sent then, and what is sent
sounds from the delay on. The notes are held, one by one, against those of the player's sound alone, heard without the
guard.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import numpy as np

from bench.cases import Case, rehearsal_case, sampled_case
from bench.noting import matched, note_figures, quantiser
from bench.peers import follow
from bench.special import Numbers
from bench.wanted import Target
from bridge.base.events import AudioBlock, Event, NoteOff, NoteOn, PitchFrame
from bridge.follow.making import make_follower
from bridge.follow.settings import FollowSettings
from bridge.quantise.bleed import BleedSettings
from bridge.quantise.hearing import Hearing
from bridge.quantise.settings import QuantiseSettings
from bridge.send.midi_settings import MidiSettings
from sounds.bleed import HARMONICA, LEAD, WIDE, WITHOUT_BREATH, LiveSynth, gain_for, rendered

LEVEL_DB, DELAY_S = -12.0, 0.015
#: A note is held by its echo when its end comes so much later than without any, seconds: the synth needs as long.
HELD_S = 0.06
PASSAGES = ("alternation", "straight third", "released third", "whole range")


def bleed(program: int, sent: MidiSettings) -> Numbers:
    """One voice of the synth: notes of the player lost, notes begun and notes held by the synth's sound."""
    lost = begun = held = played = 0
    for case in _cases():
        alone = Chain(case, guard=False).events(follow(case, FollowSettings()))
        events = with_bleed(case, alone, program, sent)
        played += len(case.sound.notes)
        lost += _lost(case, alone, events)
        begun += _begun(case, alone, events)
        held += sum(late > HELD_S for late in _later(alone, events))
    return {"played": float(played), "lost": float(lost), "begun": float(begun), "held": float(held)}


def guard_alone(condition: str) -> Numbers:
    """What the guard costs where nothing comes back: notes lost and begun by it."""
    lost = begun = played = 0
    for case in _cases():
        dirtied = case.dirtied(condition)
        frames = follow(dirtied, FollowSettings())
        alone, guarded = (Chain(dirtied, guard=guard).events(frames) for guard in (False, True))
        played += len(dirtied.sound.notes)
        lost += _lost(dirtied, alone, guarded)
        begun += _begun(dirtied, alone, guarded)
    return {"played": float(played), "lost": float(lost), "begun": float(begun)}


class Chain:
    """Hearing and quantiser as they are joined for playing live."""

    def __init__(self, case: Case, *, guard: bool) -> None:
        settings = QuantiseSettings(bleed=BleedSettings(guard=guard))
        self._hearing = Hearing(settings, tells_reeds=True, look_ahead=False)
        self._quantiser = quantiser(case)

    def events(self, frames: Iterable[PitchFrame]) -> list[Event]:
        """What these frames, which follow on those before, make."""
        events: list[Event] = []
        for frame in frames:
            for heard in self._hearing.step(frame):
                for event in self._quantiser.step(heard):
                    self._hearing.tell(event)
                    events.append(event)
        return events


def with_bleed(case: Case, alone: Sequence[Event], program: int, sent: MidiSettings) -> list[Event]:
    """What is sent while the synth comes back; the gain is that which brings its answer to ``alone`` to the level."""
    sound = case.sound
    gain = gain_for(sound.samples, rendered(alone, program, sent, len(sound.samples)), LEVEL_DB)
    follower, chain = make_follower(FollowSettings(), sound.rate, case.floor_hz), Chain(case, guard=True)
    delay = round(DELAY_S * sound.rate)
    coming, events = np.zeros(delay, np.float32), list[Event]()
    with LiveSynth(program, sent) as synth:
        # Blocks no longer than the delay: what is sent in one is not heard before the next.
        for start in range(0, len(sound.samples), delay):
            block = sound.samples[start : start + delay]
            heard = block + coming[: len(block)]
            for event in chain.events(follower.follow(AudioBlock(start, sound.rate, heard.astype(np.float32)))):
                synth.tell(event)
                events.append(event)
            coming = gain * synth.render(delay)
    return events


def _cases() -> list[Case]:
    cases = [sampled_case(name, key) for name in ("phrase", "every hole", "tongued repeats") for key in ("low-F", "A")]
    cases.append(rehearsal_case("A", 1, PASSAGES))
    return [replace(case, sound=replace(case.sound, samples=_longer(case))) for case in cases]


def _longer(case: Case) -> np.ndarray:
    return np.concatenate([case.sound.samples, np.zeros(case.sound.rate, np.float32)])


def _ons(events: Sequence[Event]) -> list[NoteOn]:
    return [event for event in events if isinstance(event, NoteOn)]


def _lost(case: Case, alone: Sequence[Event], mixed: Sequence[Event]) -> int:
    """How many notes that are right without bleed are missing or wrong with it."""
    return len(_right(case, _ons(alone)) - _right(case, _ons(mixed)))


def _right(case: Case, found: Sequence[NoteOn]) -> set[int]:
    """Which of the notes that were played were found, in the right slot."""
    notes = case.sound.notes
    right = set()
    for played, on in matched(notes, found):
        one = replace(case, sound=replace(case.sound, notes=(notes[played],)))
        if not note_figures(one, [found[on]]).wrong:
            right.add(played)
    return right


def _begun(case: Case, alone: Sequence[Event], mixed: Sequence[Event]) -> int:
    """How many Note Ons with bleed belong to no note, and to none of those without bleed that belong to no note."""
    before, after = (_extra(case, _ons(made)) for made in (alone, mixed))
    return sum(not any(abs(one.ready_s - other.ready_s) < HELD_S for other in before) for one in after)


def _extra(case: Case, found: Sequence[NoteOn]) -> list[NoteOn]:
    """The Note Ons that belong to no note that was played."""
    taken = {on for _, on in matched(case.sound.notes, found)}
    return [sent for on, sent in enumerate(found) if on not in taken]


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


#: The rows that have a target; by default the breath is sent, so that a softly played note has a soft answer.
_SENT: dict[str, Callable[[], Numbers]] = {
    "bleed of a lead": lambda: bleed(LEAD, WIDE),
    "bleed of a sampled harmonica": lambda: bleed(HARMONICA, WIDE),
}
ROWS: dict[str, Callable[[], Numbers]] = {
    **_SENT,
    "bleed of a lead, no breath sent": lambda: bleed(LEAD, WITHOUT_BREATH),
    "bleed of a sampled harmonica, no breath sent": lambda: bleed(HARMONICA, WITHOUT_BREATH),
    "guard against bleed, nothing comes back": lambda: guard_alone("clean"),
    "guard against bleed, nothing comes back, room": lambda: guard_alone("room"),
}
TARGETS: tuple[Target, ...] = tuple(
    Target(f"{row}: notes {figure}", row, figure, "<=", 0.0) for row in _SENT for figure in ("lost", "begun", "held")
)
