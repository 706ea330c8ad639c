"""What the stages hand on: ``AudioBlock -> PitchFrame -> PitchPoint, NoteOn, Inflection, NoteOff``.

Conventions: ``time_s`` is the instant of the stream that a value describes, ``ready_s`` the stream time by which the
samples it needed had arrived (so ``ready_s - time_s`` is the delay of the follower); both in seconds from the first
sample. 0 Hz means silent. Levels are dBFS, -120 = nothing. All events are frozen; a stage makes new ones.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False)
class AudioBlock:
    """Mono samples in stream order.

    ``start`` is the index of the first sample in the stream, ``rate`` in Hz, ``samples`` float32 of shape (n,) with
    full scale at +-1. ``n`` may be 0 ("nothing new yet") and may differ from block to block.
    """

    start: int
    rate: int
    samples: NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class PitchFrame:
    """One pitch estimate. ``confidence``, ``clean`` and ``bright`` are 0..1; ``attack`` marks a fresh attack.

    ``reed`` is how surely this is a reed rather than a voice or a noise, 0..1. ``second_hz`` is the pitch of a second
    reed that sounds at once, 0 where there is none, and ``reeds`` how many are heard (3 = three or more).
    """

    time_s: float
    ready_s: float
    hz: float
    level_db: float
    confidence: float
    clean: float
    bright: float
    attack: bool = False
    reed: float = 1.0
    second_hz: float = 0.0
    reeds: int = 1


@dataclass(frozen=True, slots=True)
class PitchPoint:
    """A frame seen from the root: one row of ``curve.csv``, one ``/reedwire/pitch`` message.

    ``cents`` is the interval above the root (any octave, may be negative) and 0.0 when ``hz`` is 0.
    """

    time_s: float
    ready_s: float
    hz: float
    cents: float
    level_db: float
    clean: float


@dataclass(frozen=True, slots=True)
class Inflection:
    """Everything that moves inside the note ``note_id``.

    ``bend_cents`` is cents minus the anchor of the note's slot, raw (as played); ``degree`` the degree the pitch is
    at now; ``blueness``, ``breath`` and ``bright`` are 0..1, ``lean`` -1..+1.
    """

    note_id: int
    time_s: float
    ready_s: float
    bend_cents: float
    degree: str
    blueness: float
    lean: float
    breath: float
    bright: float


@dataclass(frozen=True, slots=True)
class NoteOn:
    """A note begins: ``time_s`` is the attack, ``ready_s`` when it was sure. ``velocity`` 0..1, MIDI note 0..127."""

    note_id: int
    time_s: float
    ready_s: float
    midi_note: int
    velocity: float
    inflection: Inflection

    @property
    def degree(self) -> str:
        """Degree in which the note began, spelled as in the scale (``b3``, ``3``, ...)."""
        return self.inflection.degree


@dataclass(frozen=True, slots=True)
class NoteOff:
    """The note ``note_id`` ends. Every NoteOn gets exactly one."""

    note_id: int
    time_s: float
    ready_s: float


@dataclass(frozen=True, slots=True)
class Status:
    """What the performer must always see: whether the bridge is armed, which harp, and how much was lost so far.

    ``place`` is the harp's place in the set, counted from 1, 0 for one outside it; ``straight`` where its straight
    third lies, cents above the root; ``a4_hz`` the A4 it is tuned to. As long as a harp is ``sought``, nobody knows yet
    which it is: nothing is sent, and nothing that is counted from a root can be told. ``sent_s`` and ``sent_99_s`` are
    the seconds within which half of the blocks, and 99 of 100, went from the sound card to what is sent; ``late`` is
    how many took longer than players bear. ``take_stopped_s`` is the stream time after which nothing is kept any more
    of a take that should be; None as long as it is, and where none is wanted.
    """

    time_s: float
    armed: bool
    harp: str
    lost: int
    place: int
    straight: float
    a4_hz: float
    sought: bool = False
    sent_s: float = 0.0
    sent_99_s: float = 0.0
    late: int = 0
    take_stopped_s: float | None = None


#: What quantise gives and send takes.
Event = PitchPoint | NoteOn | Inflection | NoteOff
