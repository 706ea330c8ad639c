"""What comes back the other way, from keyboard, MIDI in, OSC in or the board, polled between hops."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Arm:
    """Listen and send (True), or hear the room and send nothing (False); None changes over.

    ``lent``: only for as long as who asks is there; should the board die meanwhile, the bridge listens no more.
    """

    armed: bool | None = None
    lent: bool = False


@dataclass(frozen=True, slots=True)
class ChangeHarp:
    """Go on with another harp.

    Named as on the command line (``C``, ``Bb``, ``low-F``), by its place in the set (``2``), or ``next`` or
    ``previous``.
    """

    harp: str


@dataclass(frozen=True, slots=True)
class Panic:
    """End everything that may sound."""


@dataclass(frozen=True, slots=True)
class Stop:
    """End the performance."""


@dataclass(frozen=True, slots=True)
class Tap:
    """A quarter begins now: tapped in time, this is the tempo of the take."""


@dataclass(frozen=True, slots=True)
class Quiet:
    """The program itself begins (True) or ends sounding a model: meanwhile nothing is heard."""

    sounding: bool


@dataclass(frozen=True, slots=True)
class Begin:
    """Somebody is there to see it: what waits for that may begin."""


@dataclass(frozen=True, slots=True)
class HearClicks:
    """A page counts in: ``beats`` clicks, one every ``beat_s`` from ``first_s`` of the stream on, both in seconds."""

    first_s: float
    beat_s: float
    beats: int


Command = Arm | ChangeHarp | Panic | Stop | Tap | Quiet | Begin | HearClicks
