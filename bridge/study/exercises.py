"""The exercises on the third: what is to be played, at which beats, and where it should lie.

What is practised here is common practice of the trade, no source: the third held straight, bent to the minor, held in
between; begun low and let go of over one beat; tongued again and again while the bend grows; in turn with the root.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from bridge.quantise.third import ThirdZone
from bridge.study.aims import Aim, Place, near

#: Beats that are counted before the first note.
COUNT_IN = 4
#: How many times the third is tongued while the bend grows.
_GROWING = 8
#: Part of a beat that a tongued note sounds.
_TONGUED = 0.8
#: What lies further than this under the minor or above the straight third, or to either side of the root, was another
#: note, cents: a reed is bent further down by mistake than it ever sounds too high.
_UNDER_CENTS, _OVER_CENTS = 100.0, 60.0


@dataclass(frozen=True, slots=True)
class Exercise:
    """``name`` as it is typed, ``title`` and ``how`` in words for the player; ``beats`` in all after the count-in.

    ``around`` is where notes may be that belong to it, however far they miss it; empty where any note may.
    """

    name: str
    title: str
    how: str
    aims: tuple[Aim, ...]
    beats: float
    around: tuple[Place, ...] = ()

    def belongs(self, cents: float) -> bool:
        """Whether a note held at ``cents`` above the root, in any octave, may be one of it."""
        return not self.around or any(place.missed(cents) == 0.0 for place in self.around)


@dataclass(frozen=True, slots=True)
class Places:
    """The places over the root that exercises aim at."""

    root: Place
    straight: Place
    minor: Place
    blue: Place
    low: Place


def places(zone: ThirdZone, near_cents: float) -> Places:
    """The places in ``zone``: those of one pitch reach ``near_cents`` to either side, blue is the whole zone.

    ``low`` is where a third is begun that will be let go of: from the minor up to the target.
    """
    return Places(
        root=near("the root", 0.0, near_cents, bent=False),
        straight=near("straight", zone.straight, near_cents, bent=False),
        minor=near("the minor third", zone.minor, near_cents),
        blue=Place("the blue zone", zone.zone_low, zone.zone_high),
        low=Place("the low half of the third", zone.minor - near_cents, zone.target),
    )


def exercises(zone: ThirdZone, near_cents: float) -> tuple[Exercise, ...]:
    """Every exercise on the third that lies in ``zone``, in the order in which they are learned."""
    at = places(zone, near_cents)
    third = Place("the third", zone.minor - _UNDER_CENTS, zone.straight + _OVER_CENTS)
    root = Place("the root", -_UNDER_CENTS, _OVER_CENTS)
    of_third = (
        _held("straight", "Straight", "Hold the third straight for three beats; rest for one; again.", at.straight),
        _held("minor", "Minor", "Bend the third down to the minor third and hold it there for three beats.", at.minor),
        _held("blue", "Blue", "Hold the third between minor and straight, in the blue zone, for three beats.", at.blue),
        Exercise(
            "release",
            "Release",
            "Begin low, hold for one beat, let go over the next until it is straight, hold; rest for one; again.",
            tuple(Aim(beat, 3.0, at.straight, at.low, release_beats=1.0) for beat in (0.0, 4.0)),
            8.0,
        ),
        Exercise(
            "growing",
            "Growing",
            f"Tongue the third {_GROWING} times, once a beat: first straight, each a little deeper, the last minor.",
            tuple(Aim(float(step), _TONGUED, _step(zone, near_cents, step)) for step in range(_GROWING)),
            float(_GROWING),
        ),
    )
    turn = Exercise(
        "turn",
        "Turn",
        "Play the third in the blue zone and the root in turn, once a beat.",
        tuple(Aim(float(step), _TONGUED, at.root if step % 2 else at.blue) for step in range(_GROWING)),
        float(_GROWING),
        (third, root),
    )
    return (*(replace(each, around=(third,)) for each in of_third), turn)


def _held(name: str, title: str, how: str, place: Place) -> Exercise:
    """The third held twice."""
    return Exercise(name, title, how, tuple(Aim(beat, 3.0, place) for beat in (0.0, 4.0)), 8.0)


def _step(zone: ThirdZone, near_cents: float, step: int) -> Place:
    """Where the tongued third lies at ``step``, counted from 0: evenly from straight to minor."""
    cents = zone.straight - (zone.straight - zone.minor) * step / (_GROWING - 1)
    return near(f"step {step + 1} of {_GROWING}", cents, near_cents)
