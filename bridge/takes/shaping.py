"""What can be done to the curve of a note: its bends scaled, the place where it settles moved, its swaying taken out.

Every change is made to the breakpoints, so that curves stay straight between them; when and how loud the note is stays
as it was. A change that changes nothing gives the note itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from bridge.takes.edited import Breakpoint, EditedNote, Points
from bridge.takes.settled import Settled

#: Corners nearer to one another than this are one, seconds: tables tell hundredths of a millisecond.
_SAME_S = 1e-4


def scale_bends(note: EditedNote, factor: float, straight_cents: float) -> EditedNote:
    """The note with every bend ``factor`` times as far from its straight pitch, a bend of ``straight_cents``.

    0 is straight, 1 as played, more is deeper.
    """
    # So that a factor of 1 adds nothing at all, whatever rounding does.
    return _changed(note, lambda _, bend: bend + (factor - 1.0) * (bend - straight_cents))


def move_settled(note: EditedNote, place: Settled, by_cents: float, *, whole: bool = False) -> EditedNote:
    """The note settling ``by_cents`` higher; the scoop still begins, and the release ends, at the pitch where it did.

    The way from there to where it settles becomes longer or shorter as a whole. ``whole`` moves all of the curve.
    """
    if whole or by_cents == 0.0:
        return _changed(note, lambda _, bend: bend + by_cents)
    first, last = note.at(0.0).bend_cents, note.at(note.length_s).bend_cents

    def moved(at_s: float, bend: float) -> float:
        if at_s < place.from_s:
            return _between(first, place.bend_cents, by_cents, bend)
        if at_s > place.to_s:
            return _between(last, place.bend_cents, by_cents, bend)
        return bend + by_cents

    return _changed(_with_corners(note, (place.from_s, place.to_s)), moved)


def straighten(note: EditedNote, place: Settled, *, keep_scoop: bool = True, keep_release: bool = True) -> EditedNote:
    """The note held still where it settles: no vibrato, no drift; what is not kept of scoop and release goes too."""
    from_s = place.from_s if keep_scoop else 0.0
    to_s = place.to_s if keep_release else note.length_s

    def still(at_s: float, bend: float) -> float:
        return place.bend_cents if from_s - _SAME_S <= at_s <= to_s + _SAME_S else bend

    return _changed(_with_corners(note, (from_s, to_s)), still)


def _between(still: float, settled_bend: float, by_cents: float, bend: float) -> float:
    """A bend on the way between one that stays and one that moves, cents."""
    return bend + by_cents * (bend - still) / (settled_bend - still) if settled_bend != still else bend + by_cents


def _changed(note: EditedNote, bend_at: Callable[[float, float], float]) -> EditedNote:
    """The note with other bends: ``bend_at`` gives one from the seconds since the start and the bend there."""
    points = (replace(point, bend_cents=bend_at(point.at_s, point.bend_cents)) for point in note.points)
    return replace(note, points=Points(points))


def _with_corners(note: EditedNote, times: Iterable[float]) -> EditedNote:
    """The same curve with breakpoints at these times as well, seconds from the start; the ends need none."""
    points: list[Breakpoint] = list(note.points)
    for at_s in times:
        if 0.0 < at_s < note.length_s and all(abs(point.at_s - at_s) > _SAME_S for point in points):
            points.append(note.at(at_s))
    return replace(note, points=sorted(points, key=lambda point: point.at_s))
