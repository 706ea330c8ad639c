"""A sound together with what is known about it.

Conventions: times in seconds from the first sample, pitch in Hz, 0 Hz means silent. A point of the truth is *scored*
when the truth is certain there: attacks, tails and the reverberation of a note that has ended are not.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
#: Spacing of the points at which a truth curve is given.
TRUTH_STEP_S = 0.001


@dataclass(frozen=True)
class Bend:
    """Cents from a note's number over the seconds since the note began.

    ``points`` are (seconds, cents) in order, joined by raised cosines and held outside; vibrato is a sine of
    ``vibrato_cents`` to either side at ``vibrato_hz`` from ``vibrato_from_s`` on.
    """

    points: tuple[tuple[float, float], ...] = ((0.0, 0.0),)
    vibrato_cents: float = 0.0
    vibrato_hz: float = 6.0
    vibrato_from_s: float = 0.0

    @property
    def held(self) -> bool:
        """Whether the pitch stays where it is for the whole note."""
        return self.vibrato_cents == 0.0 and len({cents for _, cents in self.points}) == 1

    def at(self, seconds: Floats) -> Floats:
        """Cents at ``seconds`` since the note began, any shape."""
        corners = np.array([second for second, _ in self.points])
        cents = np.array([cent for _, cent in self.points])
        before = np.clip(np.searchsorted(corners, seconds, side="right") - 1, 0, len(corners) - 1)
        after = np.minimum(before + 1, len(corners) - 1)
        span = np.where(after > before, corners[after] - corners[before], 1.0)
        along = np.clip((seconds - corners[before]) / span, 0.0, 1.0)
        glide = cents[before] + (cents[after] - cents[before]) * 0.5 * (1.0 - np.cos(np.pi * along))
        since = np.maximum(0.0, seconds - self.vibrato_from_s)
        return np.asarray(glide + self.vibrato_cents * np.sin(2.0 * np.pi * self.vibrato_hz * since))


@dataclass(frozen=True)
class TruthNote:
    """One note as it was asked for and as it came out.

    ``start_s`` and ``end_s`` are when it was begun and ended; ``attack_s`` is when its sound first reached a tenth of
    its settled amplitude, ``silent_s`` when its tail had died away. ``hole`` and ``air`` are 0 and "" when unknown;
    ``settled_hz`` is the pitch at which a held note settled, 0 when it moves.
    """

    start_s: float
    end_s: float
    midi: int
    bend: Bend
    attack_s: float
    silent_s: float
    hole: int = 0
    air: str = ""
    settled_hz: float = 0.0


@dataclass(frozen=True, eq=False)
class KnownSound:
    """Samples (float32 mono, full scale +-1) at ``rate`` Hz with the truth about them.

    ``times_s``, ``hz`` and ``scored`` have one shape (n,): at ``times_s[i]`` the pitch is ``hz[i]`` (0 = silent), to
    be relied on where ``scored[i]``.
    """

    name: str
    rate: int
    samples: NDArray[np.float32]
    notes: tuple[TruthNote, ...]
    times_s: Floats
    hz: Floats
    scored: NDArray[np.bool_]

    @property
    def length_s(self) -> float:
        """Length in seconds."""
        return len(self.samples) / self.rate

    def altered(self, how: str, samples: NDArray[np.float32], scored: NDArray[np.bool_] | None = None) -> KnownSound:
        """The same notes after something was done to the sound; ``how`` joins the name."""
        kept = self.scored if scored is None else scored
        return replace(self, name=f"{self.name}, {how}", samples=samples, scored=kept)
