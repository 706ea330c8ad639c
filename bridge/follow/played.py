"""What a player's sound says at a sound check: how loud, overloaded or not, how late it is followed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.base.events import AudioBlock, NoteOn, PitchPoint
from bridge.base.units import SILENCE_DB, hz_to_midi
from bridge.follow.recorded_levels import RecordingMeter
from bridge.follow.room_noise import HARP_DB, SOFT_DB, LearnedRoom
from bridge.follow.suppression import DeadPauses, Suppression, fading_notes, fallen_db, held_notes

#: Of all moments with a pitch, each as loud as its note is on the whole, the softest and the loudest tenth stand for
#: soft and hard playing.
_SOFT, _HARD = 10.0, 90.0
#: So much of a pitch is playing, in seconds.
_LEAST_S = 0.3
#: A delay is known of a note of which so many frames were heard.
_LEAST_FRAMES = 30
#: Soft playing must be so far above where the gate opens, dB, and the peak so far under full scale (common practice, no
#: source).
SOFT_ABOVE_GATE_DB = 6.0
PEAK_DB = -1.0


@dataclass(frozen=True, slots=True)
class FollowedNote:
    """A note (MIDI number) and how long its pitch is behind it, in seconds: the middle of the frames heard of it."""

    midi: int
    delay_s: float


@dataclass(frozen=True, slots=True)
class Played:
    """``seconds`` of pitch; levels in dBFS, soft, usual and hard after the follower's filters, the peak before them.

    ``clipped`` counts the places at full scale, ``notes`` are the lowest and a middle one (fewer when fewer were
    heard), ``lowest`` and ``highest`` MIDI numbers, ``begins_s`` how long a note began after its attack, the middle one
    of ``begun`` notes.
    """

    seconds: float
    soft_db: float
    usual_db: float
    hard_db: float
    peak_db: float
    clipped: int
    suppression: Suppression
    notes: tuple[FollowedNote, ...]
    lowest: int
    highest: int
    begun: int
    begins_s: float

    @property
    def heard(self) -> bool:
        """Whether anybody played."""
        return self.seconds >= _LEAST_S

    def short_db(self, open_db: float) -> float:
        """How much louder it must be for soft notes to pass a gate that opens at ``open_db``, dB; 0 when it is so.

        Soft notes are those that were played, or lie as far under the usual ones as soft notes do, whichever is lower.
        """
        soft_db = min(self.soft_db, self.usual_db - SOFT_DB) if self.usual_db < HARP_DB else self.soft_db
        return max(0.0, open_db + SOFT_ABOVE_GATE_DB - soft_db)

    @property
    def near_full_scale(self) -> bool:
        """Whether the peak leaves no room although nothing was cut."""
        return not self.clipped and self.peak_db > PEAK_DB


class PlayedMeter:
    """Hears the sound of a player, and what the follower and quantiser make of it; ``floor_hz`` is the follower's."""

    def __init__(self, rate: int, floor_hz: float, room: LearnedRoom) -> None:
        self._room = room
        self._recording = RecordingMeter(rate, floor_hz)
        self._dead = DeadPauses(rate)
        self._points: list[PitchPoint] = []
        self._begins_s: list[float] = []

    def hear(self, block: AudioBlock) -> None:
        """Take the next block."""
        self._recording.hear(block)
        self._dead.hear(block.samples)

    def know(self, event: object) -> None:
        """Take what the chain says of it; all but pitch and beginnings of notes is left out."""
        if isinstance(event, PitchPoint) and event.hz > 0.0:
            self._points.append(event)
        elif isinstance(event, NoteOn):
            self._begins_s.append(event.ready_s - event.time_s)

    def played(self) -> Played:
        """All that was heard so far; of nothing all levels are -120."""
        points = self._points
        levels = _note_levels(points)
        soft, usual, hard = np.percentile(levels, (_SOFT, 50.0, _HARD)) if levels else (SILENCE_DB,) * 3
        midi = np.rint([hz_to_midi(point.hz) for point in points]).astype(int)
        followed = _followed(points, midi)
        heard = self._recording.levels()
        moments_db, moment_s = self._recording.moments()
        room = self._room
        fallen = fallen_db(moments_db, moment_s, open_db=room.open_db, close_db=room.close_db, noise_db=room.noise_db)
        seconds = _seconds(points)
        dead_room = room.dead and seconds >= _LEAST_S
        return Played(
            seconds=seconds,
            soft_db=float(soft),
            usual_db=float(usual),
            hard_db=float(hard),
            peak_db=heard.peak_db,
            clipped=heard.clipped,
            suppression=Suppression(dead_room, self._dead.count, fallen, fading_notes(points)),
            notes=_lowest_and_middle(followed),
            lowest=followed[0].midi if followed else 0,
            highest=followed[-1].midi if followed else 0,
            begun=len(self._begins_s),
            begins_s=float(np.median(self._begins_s)) if self._begins_s else 0.0,
        )


def _seconds(points: Sequence[PitchPoint]) -> float:
    """How long there was a pitch: frames times the middle of the times between them."""
    if len(points) < 2:
        return 0.0
    return len(points) * float(np.median(np.diff([point.ready_s for point in points])))


def _note_levels(points: Sequence[PitchPoint]) -> list[float]:
    """For every point the middle level of its note, so that no note counts as soft because it dies away."""
    notes = [[point.level_db for point in note] for note in held_notes(points)]
    return [level_db for note in notes for level_db in [float(np.median(note))] * len(note)]


def _followed(points: Sequence[PitchPoint], midi: NDArray[np.int_]) -> list[FollowedNote]:
    """Every note of which enough was heard, the lowest first."""
    delays = np.array([point.ready_s - point.time_s for point in points])
    return [
        FollowedNote(int(note), float(np.median(delays[midi == note])))
        for note in np.unique(midi)
        if np.count_nonzero(midi == note) >= _LEAST_FRAMES
    ]


def _lowest_and_middle(notes: Sequence[FollowedNote]) -> tuple[FollowedNote, ...]:
    return (notes[0], notes[math.ceil((len(notes) - 1) / 2)]) if len(notes) > 1 else tuple(notes)
