"""What of a take must sound otherwise than it was played: the stretches to sing again, and those to silence.

Conventions: ``from_s`` to ``to_s`` are seconds of the sound as it was played, ``at_s`` to ``until_s`` of the sound as
it is wanted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.takes.edited import EditedNote

Floats = NDArray[np.float64]

#: Below these nothing is edited: a cent and a fiftieth of the breath are heard by nobody, two milliseconds no more.
#: What a MIDI file rounds (half a bend step of 0.6 cents, 1/127, a tick of 1 ms) stays below them.
PITCH_CENTS, BREATH, TIME_S = 1.0, 0.02, 0.002
#: The edit of a vibrato crosses zero on the way: what lies between two edited moments this close is edited too, s.
_BETWEEN_S = 0.1
#: An edit this near the beginning or end of a note has the whole of it, in seconds.
_NEAR_END_S = 0.02
#: A reed speaks a little before its note is told, and a note rings on for so long at most, s.
LEAD_S, RING_S = 0.02, 0.25
#: The attack of a note is not drawn out with it: it would no longer be one, s.
ATTACK_S = 0.08
_STEP_S = 0.001
#: Nothing shorter is sung: it would be all fades, s.
_LEAST_S = 0.005


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of the note ``played`` that sounds as in ``wanted``.

    ``joins_before`` and ``joins_after`` say that the note sounds on there as it was played. ``sung`` is False where
    the pitch stays as it is, and ``grown_s`` how much longer its held part becomes.
    """

    played: EditedNote
    wanted: EditedNote
    from_s: float
    to_s: float
    at_s: float
    until_s: float
    sung: bool
    joins_before: bool = False
    joins_after: bool = False
    grown_s: float = 0.0

    @property
    def attack_s(self) -> float:
        """How much of the note's beginning is not drawn out with it."""
        return min(ATTACK_S, self.played.length_s / 2.0)

    def came_from(self, since_s: Floats) -> Floats:
        """Seconds since the beginning of the played note, for seconds since that of the wanted one; any shape."""
        held_s = self.played.length_s - self.attack_s + self.grown_s
        return since_s - np.clip(since_s - self.attack_s, 0.0, held_s) * self.grown_s / max(held_s, 1e-9)


@dataclass(frozen=True, slots=True)
class Plan:
    """``stretches`` in order of ``at_s``; ``silenced`` are pairs of seconds; ``unsung`` ids of notes without sound."""

    stretches: tuple[Stretch, ...]
    silenced: tuple[tuple[float, float], ...]
    unsung: tuple[int, ...]


def cents(note: EditedNote, since_s: Floats) -> Floats:
    """The curve of a note in cents above MIDI note 0 at seconds since its beginning, any shape."""
    at_s, bends, _ = note.columns
    return 100.0 * note.midi_note + np.asarray(np.interp(since_s, at_s, bends), np.float64)


def breath(note: EditedNote, since_s: Floats) -> Floats:
    """The breath of a note, 0..1, at seconds since its beginning, any shape."""
    at_s, _, values = note.columns
    return np.asarray(np.interp(since_s, at_s, values), np.float64)


def make_plan(
    played: Sequence[EditedNote], wanted: Sequence[EditedNote], ring_s: Callable[[float, float], float]
) -> Plan:
    """What to do so that ``played`` sounds as ``wanted``, matched by id.

    ``ring_s`` is told where a note ends and where the next sound may begin, in seconds, and says how long it rings on.
    A harp's voice is one: of notes that overlap the later one cuts the earlier off.
    """
    old = sorted(played, key=lambda note: note.start_s)
    new = {note.id: note for note in wanted}
    known = {note.id for note in played}
    after = _nexts(wanted)
    stretches: list[Stretch] = []
    silenced: list[tuple[float, float]] = []
    for index, note in enumerate(old):
        before_s = old[index - 1].end_s if index else 0.0
        next_s = old[index + 1].start_s if index + 1 < len(old) else np.inf
        room = _Room(
            max(0.0, note.start_s - max(before_s, note.start_s - LEAD_S)),
            lambda end_s, next_s=next_s: ring_s(end_s, _lead_from(end_s, next_s)),  # type: ignore[misc]
        )
        target = new.get(note.id)
        if target is None:
            silenced.append((note.start_s - room.lead_s, note.end_s + room.ring_s(note.end_s)))
            continue
        done, still = _edited(note, target, room, after[note.id])
        stretches += done
        silenced += still
    return Plan(
        tuple(sorted(stretches, key=lambda stretch: stretch.at_s)),
        tuple(silenced),
        tuple(note.id for note in wanted if note.id not in known),
    )


@dataclass(frozen=True, slots=True)
class _Room:
    """What a note has around it: how much sound before its start is its own, and how long it rings after an end."""

    lead_s: float
    ring_s: Callable[[float], float]


def _lead_from(end_s: float, next_s: float) -> float:
    """Where the sound of the next note may begin, which starts at ``next_s``."""
    return max(end_s, next_s - LEAD_S)


def _nexts(wanted: Sequence[EditedNote]) -> dict[int, float]:
    """Where, after each note of that id, the sound of another one begins."""
    order = sorted(wanted, key=lambda note: note.start_s)
    starts = [*(note.start_s for note in order[1:]), np.inf][: len(order)]
    return {note.id: max(min(note.end_s, start), start - LEAD_S) for note, start in zip(order, starts, strict=True)}


def _edited(
    played: EditedNote, wanted: EditedNote, room: _Room, next_s: float
) -> tuple[list[Stretch], list[tuple[float, float]]]:
    """The stretches of one note, and what of its old sound is silenced."""
    moved = abs(wanted.start_s - played.start_s) > TIME_S
    grown_s = wanted.length_s - played.length_s
    if moved or grown_s > TIME_S:
        return _placed_anew(played, wanted, room, next_s)
    if grown_s >= -TIME_S:
        return list(_in_place(played, wanted, room, played.length_s)), []
    stretches = list(_in_place(played, wanted, room, wanted.length_s))
    return stretches, [(played.start_s + wanted.length_s, played.end_s + room.ring_s(played.end_s))]


def _placed_anew(
    played: EditedNote, wanted: EditedNote, room: _Room, next_s: float
) -> tuple[list[Stretch], list[tuple[float, float]]]:
    """A note that begins elsewhere or lasts longer: all its sound goes to its new place, the old one is silent."""
    ring_s = room.ring_s(played.end_s)
    grown_s = wanted.length_s - played.length_s
    if grown_s < -TIME_S:
        ring_s = 0.0
    from_s, lasts_s = played.start_s - room.lead_s, min(played.length_s, wanted.length_s)
    old = from_s, played.end_s + room.ring_s(played.end_s)
    at_s = wanted.start_s - room.lead_s
    if at_s < 0.0:
        from_s, at_s = from_s - at_s, 0.0
    until_s = min(wanted.end_s + ring_s, next_s)
    if until_s - at_s < _LEAST_S:
        return [], [old]
    grown_s = max(0.0, grown_s) if grown_s > TIME_S else 0.0
    sung = grown_s > 0.0 or bool(np.any(np.abs(_apart(played, wanted, lasts_s)[1]) > PITCH_CENTS))
    to_s = played.start_s + lasts_s + ring_s
    return [Stretch(played, wanted, from_s, to_s, at_s, until_s, sung, grown_s=grown_s)], [old]


def _in_place(played: EditedNote, wanted: EditedNote, room: _Room, lasts_s: float) -> Iterator[Stretch]:
    """The parts of a note that stays where it is, within its first ``lasts_s`` seconds."""
    times_s, off, breath_off = _apart(played, wanted, lasts_s)
    pitch_off = np.abs(off) > PITCH_CENTS
    for first, last in _runs(pitch_off | (np.abs(breath_off) > BREATH), times_s):
        begins, ends = times_s[first] <= _NEAR_END_S, times_s[last] >= lasts_s - _NEAR_END_S
        whole = ends and lasts_s == played.length_s
        from_s = played.start_s - room.lead_s if begins else played.start_s + float(times_s[first])
        to_s = played.start_s + (lasts_s if ends else float(times_s[last]))
        to_s += room.ring_s(to_s) if whole else 0.0
        sung = bool(np.any(pitch_off[first : last + 1]))
        if to_s - from_s >= _LEAST_S:
            yield Stretch(played, wanted, from_s, to_s, from_s, to_s, sung, not begins, not ends)


def _apart(played: EditedNote, wanted: EditedNote, lasts_s: float) -> tuple[Floats, Floats, Floats]:
    """Seconds of a note, and by how many cents and how much breath the wanted curve then lies above the played one."""
    times_s = np.append(np.arange(0.0, lasts_s, _STEP_S), lasts_s)
    return times_s, cents(wanted, times_s) - cents(played, times_s), breath(wanted, times_s) - breath(played, times_s)


def _runs(is_edited: NDArray[np.bool_], times_s: Floats) -> list[tuple[int, int]]:
    """First and last index of each run of edited moments, those that lie close together taken as one."""
    edited = np.flatnonzero(is_edited)
    if not len(edited):
        return []
    breaks = np.flatnonzero(np.diff(times_s[edited]) > _BETWEEN_S)
    firsts, lasts = [0, *(breaks + 1).tolist()], [*breaks.tolist(), len(edited) - 1]
    return [(int(edited[first]), int(edited[last])) for first, last in zip(firsts, lasts, strict=True)]
