"""The four ways of the third that a lesson begins with: what each is, and which notes of a playing show it.

That these four are told apart is common practice of the trade, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from bridge.quantise.third import ThirdZone
from bridge.study.alignment import MarkedNote
from bridge.study.marks import NoteMarks

#: A note that shows a held way begins near where it is held, cents, lasts so long, seconds, and is not let go.
_BEGUN_NEAR_CENTS, _LEAST_S = 30.0, 0.25
_LET_GO_CENTS = 30.0
#: Longer than this a note shows nothing more, seconds; so many cents nearer its place are worth a second.
_LONG_S, _WORTH_CENTS = 2.0, 20.0


@dataclass(frozen=True, slots=True)
class Way:
    """One of the four: its name, a sentence, and the curve that a model of it takes.

    ``curve`` is beats from its start and cents above the root, joined smoothly; the last is where it ends.
    """

    name: str
    sentence: str
    curve: tuple[tuple[float, float], ...]


def four_ways(zone: ThirdZone, *, reed: bool = True) -> tuple[Way, ...]:
    """Straight, minor, blue, released, over ``zone``; ``reed`` is whether any reed gives the straight third."""
    low = max(zone.minor, zone.zone_low)
    flat, upper, lower = (zone.straight - cents for cents in (zone.minor, zone.zone_high, zone.zone_low))
    return (
        Way(
            "Straight",
            "The third as the reed gives it, unbent, from its first moment to its last."
            if reed
            else "What would be the straight third, from its first moment to its last; no reed gives it here.",
            _held(zone.straight),
        ),
        Way(
            "Minor",
            f"Bent down until it lies at the minor third, {flat:.0f} cents under straight, and held there."
            if reed
            else f"The minor third, {flat:.0f} cents under what counts as straight, and held there.",
            _held(zone.minor),
        ),
        Way(
            "Blue",
            f"Held in between, anywhere in the blue zone, {upper:.0f} to {lower:.0f} cents under straight: "
            "no spot in it counts more than another.",
            _held(zone.target),
        ),
        Way(
            "Released",
            "Begun low, and let go while it sounds, over about one beat, until it is straight.",
            ((0.0, low), (0.5, low), (1.5, zone.straight), (2.5, zone.straight)),
        ),
    )


def shown_by(way: Way, notes: Sequence[MarkedNote], zone: ThirdZone, near_cents: float) -> MarkedNote | None:
    """The note that shows ``way`` best, None where none does."""
    worth = _WORTHS[way.name]
    found = [(worth(note.marks, zone, 2.0 * near_cents), note) for note in notes]
    fitting = [(value, note) for value, note in found if value is not None]
    return max(fitting, key=lambda pair: pair[0])[1] if fitting else None


def _held(cents: float) -> tuple[tuple[float, float], ...]:
    return ((0.0, cents), (2.0, cents))


def _worth_held(marks: NoteMarks, cents: float, within: float) -> float | None:
    """How well a note shows a pitch that is held, None where it does not."""
    off = abs(marks.settle_cents - cents)
    let_go = marks.release is not None and marks.release.rise_cents >= _LET_GO_CENTS
    moved = abs(marks.begin_cents - marks.settle_cents) > _BEGUN_NEAR_CENTS
    if off > within or let_go or moved or marks.two_holes or marks.length_s < _LEAST_S:
        return None
    return min(marks.length_s, _LONG_S) - off / _WORTH_CENTS


def _straight(marks: NoteMarks, zone: ThirdZone, near_cents: float) -> float | None:
    return _worth_held(marks, zone.straight, near_cents)


def _minor(marks: NoteMarks, zone: ThirdZone, near_cents: float) -> float | None:
    return _worth_held(marks, zone.minor, near_cents)


def _blue(marks: NoteMarks, zone: ThirdZone, near_cents: float) -> float | None:
    inside = zone.zone_low <= marks.settle_cents <= zone.zone_high
    # Nearer the minor third it may be a minor one that was meant.
    meant = marks.settle_cents - zone.minor > near_cents
    return _worth_held(marks, marks.settle_cents, near_cents) if inside and meant else None


def _released(marks: NoteMarks, zone: ThirdZone, near_cents: float) -> float | None:
    release = marks.release
    if release is None or release.rise_cents < _LET_GO_CENTS or marks.two_holes:
        return None
    off = abs(release.to_cents - zone.straight)
    if release.from_cents > zone.target or off > near_cents:
        return None
    return min(marks.length_s, _LONG_S) - off / _WORTH_CENTS


_WORTHS: dict[str, Callable[[NoteMarks, ThirdZone, float], float | None]] = {
    "Straight": _straight,
    "Minor": _minor,
    "Blue": _blue,
    "Released": _released,
}
