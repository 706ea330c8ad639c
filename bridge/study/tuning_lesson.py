"""The way through tuning a harp: which straight notes are still wanted, what becomes of those that come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import fmean
from typing import Literal

from bridge.base.errors import UserError
from bridge.base.units import cents_between
from bridge.harp.harp import Harp, Reed
from bridge.harp.keys import KEYS
from bridge.harp.positions import position_name, root_semitones
from bridge.harp.temperaments import offset_cents
from bridge.study.straight import Fault, Judged, beside, held_fault, judge
from bridge.study.tones import Tone
from bridge.study.tuning import Hearing, Tuning, fit_tuning, soft_and_hard

#: Above the root: of the third the major one, or the minor where no reed gives that, and the fifth.
_THIRDS, _FIFTH = (4, 3), 7
_OCTAVE = 12
#: Hard playing costs less than this, cents (from memory: 5 to 15): the lower of two hearings further apart was bent.
_BENT_CENTS = 20.0
#: A reed that was heard so often without being any louder stays as it is: the microphone evens levels out.
_OFTEN = 3
#: And one that was heard so often within so many cents of one place lies there, however badly it is tuned.
_SAME_CENTS = 4.0
#: As near to a note a tone must lie to be one of another harp, cents.
_NEAR_CENTS = 45.0
#: A reed that tells temperaments apart lies so much differently in them, cents.
_TELLING_CENTS = 5.0


@dataclass(frozen=True, slots=True)
class Step:
    """What to play next: ``number`` of ``of``, counted from 1."""

    number: int
    of: int
    reed: Reed
    how: Literal["softly", "hard"]


def wanted_reeds(harp: Harp) -> tuple[Reed, ...]:
    """The straight root, third and fifth of the harp's position, as far as it has them, from the root up.

    The lowest root, drawn if there are two, and of the others the next above it, with the same breath if there are two.
    Raises UserError where no straight reed gives the root.
    """
    root = _lowest(harp, root_semitones(harp.position))
    if root is None:
        raise UserError(
            f"In {position_name(harp.position)} position no straight reed gives the root. Tune in another one, such as "
            "cross: the file serves all positions."
        )
    thirds = (_lowest(harp, root.semitones + third, root) for third in _THIRDS)
    third = next((reed for reed in thirds if reed is not None), None)
    fifth = _lowest(harp, root.semitones + _FIFTH, root)
    return tuple(reed for reed in (root, third, fifth) if reed is not None)


def telling_reed(tuning: Tuning, harp: Harp) -> Reed | None:
    """A reed not heard yet that would tell the temperaments apart that are alike so far; None if there is none."""
    heard = {reed for reed, _ in tuning.reeds}

    def apart(reed: Reed) -> float:
        offsets = [offset_cents(name, reed.semitones) for name in tuning.alike]
        return max(offsets) - min(offsets)

    best = max((reed for reed in harp.reeds if reed not in heard), key=apart, default=None)
    return best if best is not None and apart(best) >= _TELLING_CENTS else None


class Lesson:
    """Takes the tones that are played on ``harp`` one by one and knows what is still wanted.

    The notes may come in any order: each counts for the reed that it is. Raises UserError for a position whose root
    no straight reed gives.
    """

    def __init__(self, harp: Harp) -> None:
        self.harp = harp
        self.wanted = wanted_reeds(harp)
        #: Seconds of all that was not counted, by its fault.
        self.faults: dict[Fault, float] = {}
        self._hearings: list[Hearing] = []
        self._steady: list[Tone] = []
        self._doubted: list[tuple[Reed, float]] = []

    @property
    def hearings(self) -> Sequence[Hearing]:
        """Every note that counts, in order."""
        return tuple(self._hearings)

    @property
    def step(self) -> Step | None:
        """What to play next; None when all that is needed was heard."""
        missing = self.missing
        if not missing:
            return None
        done = sum(bool(self._of(reed)) + (reed not in missing) for reed in self.wanted)
        how: Literal["softly", "hard"] = "hard" if self._of(missing[0]) else "softly"
        return Step(done + 1, 2 * len(self.wanted), missing[0], how)

    @property
    def missing(self) -> tuple[Reed, ...]:
        """The reeds that are wanted and were not heard as they should be, softly and hard."""
        heard = [(reed, self._of(reed)) for reed in self.wanted]
        return tuple(reed for reed, ones in heard if not soft_and_hard(ones) and len(ones) < _OFTEN)

    @property
    def other_key(self) -> str | None:
        """The key of another harp on which what was played would be root, third and fifth; None if there is none.

        Only while of the reeds that are wanted of this harp the root was not heard, or one alone.
        """
        if self._of(self.wanted[0]) and any(map(self._of, self.wanted[1:])):
            return None
        harps = (self.harp.in_key(key.name) for key in KEYS if key.name != self.harp.key)
        return next((harp.key for harp in harps if all(map(self._sounded, wanted_reeds(harp)))), None)

    def hear(self, tone: Tone) -> Judged:
        """What ``tone`` is; it counts when it has no fault."""
        judged = self._judged(tone)
        reed = judged.reed
        if held_fault(tone) is None:
            self._steady.append(tone)
        if judged.fault in {"low", "high"} and self._insists(judged):
            judged = replace(judged, fault=None)
            self._forget(reed)
        if judged.fault == "high" and reed in self.missing:
            # It may as well be straight, and the root was bent before.
            self._forget(self.wanted[0])
        if judged.fault is not None:
            self.faults[judged.fault] = self.faults.get(judged.fault, 0.0) + tone.length_s
            return judged
        if any(judged.off_cents > one.cents + _BENT_CENTS for one in self._of(reed)):
            self._forget(reed)
        self._hearings.append(Hearing(reed, judged.off_cents, tone.spread_cents, tone.level_db))
        return judged

    def _judged(self, tone: Tone) -> Judged:
        """What ``tone`` is beside what was heard before: of the same reed, else of the root."""
        judged = judge(tone, self.harp, self.wanted)
        earlier, roots = self._of(judged.reed), self._of(self.wanted[0])
        if judged.fault is None and earlier:
            bent = judged.off_cents < max(one.cents for one in earlier) - _BENT_CENTS
            return replace(judged, fault="low") if bent else judged
        if not roots:
            return judged
        return beside(judged, self.wanted[0], fmean(one.cents for one in roots), fmean(one.level_db for one in roots))

    def _insists(self, judged: Judged) -> bool:
        """Whether this reed was heard here so often that it lies here: no bend is the same each time."""
        here = [cents for reed, cents in self._doubted if reed == judged.reed]
        self._doubted.append((judged.reed, judged.off_cents))
        return sum(abs(cents - judged.off_cents) <= _SAME_CENTS for cents in here) >= _OFTEN - 1

    def tuning(self) -> Tuning:
        """The tuning by all that was heard; at least one note must have been."""
        return fit_tuning(self._hearings, self.harp)

    def _of(self, reed: Reed) -> list[Hearing]:
        return [one for one in self._hearings if one.reed == reed]

    def _forget(self, reed: Reed) -> None:
        """What was heard of this reed does not count any more."""
        self._hearings = [one for one in self._hearings if one.reed != reed]

    def _sounded(self, reed: Reed) -> bool:
        """Whether any steady tone was as near to ``reed``, of whichever harp, as a straight note is."""
        places = (cents_between(tone.hz, reed.hz) + reed.offset_cents for tone in self._steady)
        return any(abs(place) <= _NEAR_CENTS for place in places)


def _lowest(harp: Harp, semitones: int, root: Reed | None = None) -> Reed | None:
    """The lowest straight reed with the note ``semitones``, in any octave, that does not lie below ``root``."""
    least, air = (-_OCTAVE, "draw") if root is None else (root.semitones, root.air)
    reeds = [reed for reed in harp.reeds if (reed.semitones - semitones) % _OCTAVE == 0 and reed.semitones >= least]
    return min(reeds, key=lambda reed: (reed.semitones, reed.air != air), default=None)
