"""Rows of double stops: what is seen of a second reed, what is mistaken for one, and which pitch is played.

A note is flagged when the median of its frames' ``clean`` is below 0.5. Sounds: every two neighbouring holes, blown and
drawn, the second note at 0, -6 and -10 dB, whichever of the two it is (``sounds.doubles``), out of silence or slurred
into a held note; all scores of the sampled harmonica; the warbles of ``_warble``; octaves and chords of three holes.

``one note %`` counts Note Ons: there is one from 10 ms before the attack to the end, and it is the lower reed's.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import NamedTuple

import numpy as np

from bench.cases import CLEAN, Case, sampled_case, score_case
from bench.noting import quantiser
from bench.peers import follow
from bench.special import Numbers
from bench.wanted import Target
from bridge.base.events import NoteOff, NoteOn, PitchFrame
from bridge.base.units import SILENCE_DB, cents_between
from bridge.follow.settings import FollowSettings
from bridge.quantise.hearing import Hearing
from bridge.quantise.settings import QuantiseSettings
from sounds import doubles
from sounds.known import TruthNote
from sounds.scores import BLOW, DRAW, SCORES, Score, ScoreNote

KEYS = ("low-F", "A", "C", "D", "high-G")
CONDITIONS = (CLEAN, "driven", "room")
SECOND_DB = ((0.0, 0.0), (0.0, -6.0), (0.0, -10.0), (-6.0, 0.0), (-10.0, 0.0))
#: Notes shorter than this are no held ones, seconds.
_HELD_S = 0.1
_UNCLEAN = 0.5
#: A pitch this near a reed is that reed's, cents.
_SAME_CENTS = 50.0
_CHANGES_HZ = (8.0, 16.0)

_EARLY_S = 0.01
#: A reed that joins a held note does so after this, seconds.
_JOINS_S = 0.6


class Note(NamedTuple):
    """A note that was played, the frames ready meanwhile, the MIDI notes begun meanwhile, the delay of its Note Off,
    and the longest silence meanwhile.
    """

    truth: TruthNote
    frames: list[PitchFrame]
    begun: list[int]
    off_ms: float
    silent_ms: float


def singles(condition: str) -> Numbers:
    """Single notes in ``condition``: percent flagged, and percent of their frames with more than one reed."""
    notes = [
        note
        for key in KEYS
        for score in SCORES
        for note in _notes(sampled_case(score, key), condition)
        if note.truth.end_s - note.truth.attack_s >= _HELD_S
    ]
    frames = [frame for note in notes for frame in note.frames]
    return {"notes": float(len(notes)), "flagged %": _flagged(notes), "frames two %": _two(frames)}


def neighbours(condition: str) -> Numbers:
    """Neighbouring holes in ``condition``: percent flagged, and percent that play the lower reed from half-time on."""
    notes = list(_together(doubles.neighbours(), SECOND_DB, condition))
    return _figures(notes)


def slurred(condition: str) -> Numbers:
    """A neighbour that joins a held reed, in ``condition``: percent that end on the lower, longest silence in ms."""
    held, silent_ms = 0.0, []
    pairs = [(row, hole + first, hole + 1 - first) for row in (BLOW, DRAW) for hole in range(9) for first in (0, 1)]
    for row, before, joining in pairs:
        parts = [
            score_case((ScoreNote(start, 1.2 - start, row[hole]),), "A", "slurred").sound
            for start, hole in ((0.2, before), (_JOINS_S, joining))
        ]
        length = max(len(part.samples) for part in parts)
        samples = np.sum([np.pad(part.samples, (0, length - len(part.samples))) for part in parts], axis=0)
        (note,) = _notes(Case(parts[0].altered("slurred", samples.astype(np.float32)), "A", 440.0), condition)
        lower = 69 + round(12.0 * np.log2(min(part.notes[0].settled_hz for part in parts) / 440.0))
        held += note.begun[-1:] == [lower]
        silent_ms.append(note.silent_ms)
    return {"notes": float(len(pairs)), "lower at last %": 100.0 * held / len(pairs), "silence max": max(silent_ms)}


def octaves(condition: str) -> Numbers:
    """Octaves, 0 and 6 cents wide of equal, in ``condition``: flagged, and percent that play the lower note."""
    notes = [
        note
        for cents in (0.0, 6.0)
        for note in _together(doubles.octaves(), ((0.0, 0.0), (0.0, -6.0), (-6.0, 0.0)), condition, cents)
    ]
    return _figures(notes)


def midi_of(note: TruthNote) -> int:
    """The MIDI note of the lower reed."""
    return 69 + round(12.0 * float(np.log2(note.settled_hz / 440.0)))


def chords(condition: str) -> Numbers:
    """Three neighbouring holes, alike and with the upper two 6 dB softer: percent flagged and percent seen as three."""
    notes = list(_together(doubles.chords(), ((0.0, 0.0, 0.0), (0.0, -6.0, -6.0)), condition))
    three = [np.median([frame.reeds for frame in note.frames]) >= 3 for note in notes]
    return _figures(notes) | {"three %": 100.0 * float(np.mean(three))}


def warbles(condition: str) -> Numbers:
    """Two holes in turn, 8 and 16 changes a second: percent of their notes in which two reeds are ever seen at once."""
    numbers: Numbers = {}
    for changes in _CHANGES_HZ:
        notes = [
            note for key in KEYS for note in _notes(score_case(_warble(changes), key, f"warble {changes:g}"), condition)
        ]
        mistaken = [any(frame.reeds > 1 for frame in note.frames) for note in notes]
        numbers[f"{changes:g} a second, taken for two %"] = 100.0 * float(np.mean(mistaken))
    return numbers


def _together(
    holes: Sequence[doubles.Holes], levels_db: Sequence[Sequence[float]], condition: str, detuned_cents: float = 0.0
) -> Iterator[Note]:
    """Notes of these holes on all harps at all levels."""
    for key in KEYS:
        for levels in levels_db:
            sound = doubles.together(holes, key, levels, detuned_cents=detuned_cents)
            yield from _notes(Case(sound, key, 440.0), condition)


def _notes(case: Case, condition: str) -> Iterator[Note]:
    """The notes of a case, each with the frames that became ready while it was held."""
    case = case.dirtied(condition)
    frames = follow(case, FollowSettings())
    ready = np.array([frame.ready_s for frame in frames])
    hearing = Hearing(QuantiseSettings(), tells_reeds=True, look_ahead=False)
    played = [heard for frame in frames for heard in hearing.step(frame)]
    chain = quantiser(case)
    events = [event for frame in played for event in chain.step(frame)]
    ons = [event for event in events if isinstance(event, NoteOn)]
    offs = [event.ready_s for event in events if isinstance(event, NoteOff)]
    for note in case.sound.notes:
        first, last = np.searchsorted(ready, [note.attack_s, note.end_s])
        begun = [on for on in ons if note.attack_s - _EARLY_S <= on.ready_s < note.end_s]
        off_ms = min((1000.0 * (off - note.end_s) for off in offs if off > note.end_s - 2.0 * _EARLY_S), default=np.inf)
        broken = [off for off in offs if begun and begun[0].ready_s < off < note.end_s]
        silent = [min((on.ready_s for on in begun if on.ready_s >= off), default=note.end_s) - off for off in broken]
        midi = [on.midi_note for on in begun]
        yield Note(note, played[int(first) : int(last)], midi, off_ms, 1000.0 * max(silent, default=0.0))


def _figures(notes: Sequence[Note]) -> Numbers:
    """Of double stops and chords: what is seen, which pitch is played, and what is sent."""
    one = [note.begun == [midi_of(note.truth)] for note in notes]
    return {
        "notes": float(len(notes)),
        "flagged %": _flagged(notes),
        "lower played %": _lower(notes),
        "one note %": 100.0 * float(np.mean(one)),
        "Note Off p90": float(np.quantile([note.off_ms for note in notes], 0.9, method="higher")),
    }


def _flagged(notes: Sequence[Note]) -> float:
    """Percent of the notes that are unclean for half of their length or more."""
    return 100.0 * float(np.mean([np.median([frame.clean for frame in note.frames]) < _UNCLEAN for note in notes]))


def _two(frames: Sequence[PitchFrame]) -> float:
    """Percent of the sounding frames with more than one reed."""
    return 100.0 * float(np.mean([frame.reeds > 1 for frame in frames if frame.level_db > SILENCE_DB]))


def _lower(notes: Sequence[Note]) -> float:
    """Percent of the notes that play the lower reed for most of their second half."""
    kept = []
    for note in notes:
        later = note.frames[len(note.frames) // 2 :]
        near = [frame.hz > 0.0 and abs(cents_between(frame.hz, note.truth.settled_hz)) < _SAME_CENTS for frame in later]
        kept.append(np.mean(near) > _UNCLEAN)
    return 100.0 * float(np.mean(kept))


def _warble(changes_hz: float) -> Score:
    """Ten notes in turn on each of five pairs of holes, blown and drawn."""
    notes: list[ScoreNote] = []
    start = 0.2
    for row in (BLOW, DRAW):
        for hole in (0, 2, 3, 6, 8):
            for turn in range(10):
                notes.append(ScoreNote(start, 1.0 / changes_hz, row[hole + turn % 2]))
                start += 1.0 / changes_hz
            start += 0.4
    return tuple(notes)


_KINDS: dict[str, Callable[[str], Numbers]] = {
    "single notes": singles,
    "double stops": neighbours,
    "double stops, slurred": slurred,
    "octaves": octaves,
    "chords": chords,
    "warbles, reeds at once": warbles,
}
ROWS: dict[str, Callable[[], Numbers]] = {
    **{f"{kind}, {condition}": partial(row, condition) for kind, row in _KINDS.items() for condition in CONDITIONS},
    "single notes, noise": partial(singles, "noise"),
    "double stops, noise": partial(neighbours, "noise"),
    "double stops, slurred, noise": partial(slurred, "noise"),
}

TARGETS: tuple[Target, ...] = (
    *(
        Target(f"single notes taken for several, {condition}, %", f"single notes, {condition}", "flagged %", "<=", 1.0)
        for condition in (*CONDITIONS, "noise")
    ),
    *(
        Target(
            f"neighbouring holes seen as unclean, {condition}, %", f"double stops, {condition}", "flagged %", ">=", 99.0
        )
        for condition in CONDITIONS
    ),
    *(
        Target(
            f"octaves played as one note, the lower, {condition}, %", f"octaves, {condition}", "one note %", ">=", 99.0
        )
        for condition in CONDITIONS
    ),
    *(
        Target(
            f"notes of a warble taken for two at once, {rate:g} changes a second, {condition}, %",
            f"warbles, reeds at once, {condition}",
            f"{rate:g} a second, taken for two %",
            "<=",
            2.0,
        )
        for condition in CONDITIONS
        for rate in _CHANGES_HZ
    ),
)
