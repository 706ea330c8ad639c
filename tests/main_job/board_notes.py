"""Messages of the board for invented notes, for the stand-in server: what the real one would send while they sound."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from statistics import median

from bridge.quantise.third import ThirdZone
from bridge.web.words import pitch_words
from main_job.board_double import SETUP, Message

#: A point of the curve every four milliseconds, a frame every sixty-fourth of a second.
POINT_S = 0.004
FRAME_POINTS = 4
STEADY_S = 0.15
_ZONE = ("straight", "minor", "target", "zone_low", "zone_high")
Curve = Callable[[float], float]


def silence(at: float, **other: object) -> Message:
    """A moment in which nothing sounds."""
    moment: Message = {"is": "now", "at": at, "hz": None, "cents": None, "octave": 0, "note": None, "bend": 0.0}
    moment |= {"blueness": 0.0, "lean": 0.0, "breath": 0.0, "bright": 0.0, "clean": 0.0, "words": "listening"}
    moment |= {"steady": None, "shaky": False, "trail": [], "armed": True, "sought": False, "lost": 0}
    return {**moment, "stalled": False, "held": False, "quiet": False, **other}


def third_words(cents: float) -> str:
    """A third in words, as the server has them."""
    return pitch_words(cents, "3", ThirdZone(*(SETUP[each] for each in _ZONE)))


def frames(
    number: int, at: float, length: float, curve: Curve, degree: str = "3", **other: object
) -> Iterator[Message]:
    """The frames of note ``number``, whose cents ``curve`` gives by the seconds since it began ``at``."""
    points = [(at + POINT_S * i, curve(POINT_S * i)) for i in range(round(length / POINT_S))]
    for end in range(FRAME_POINTS, len(points) + 1, FRAME_POINTS):
        now, cents = points[end - 1]
        lately = [value for moment, value in points[:end] if moment > now - STEADY_S]
        yield silence(now) | {
            "hz": SETUP["root_hz"] * 2.0 ** (cents / 1200.0),
            "cents": round(cents, 1),
            "note": {"id": number, "name": "B4", "degree": degree, "midi_note": 71, "hole": "draw 3"},
            "breath": 0.5,
            "clean": 1.0,
            "words": third_words(cents),
            "steady": round(median(lately), 1),
            "shaky": max(lately) - min(lately) > 40.0,
            "trail": [list(point) for point in points[end - FRAME_POINTS : end]],
            **other,
        }


def ended(at: float, length: float, words: str = "B4 -3 degree 3") -> Message:
    """A note that has ended, as much of it as the page looks at."""
    return {"is": "ended", "note": {"name": "B4", "degree": "3", "start": at, "length": length, "words": words}}


def phrase(*notes: tuple[float, float]) -> Message:
    """The end of a phrase of notes with these beginnings and lengths."""
    return {"is": "phrase", "notes": [ended(at, length)["note"] for at, length in notes], "trail": []}


def released(seconds: float) -> float:
    """A third begun low and let go upwards within 0.7 s."""
    gone: float = min(1.0, max(0.0, (seconds - 0.12) / 0.6)) ** 1.4
    return 318.0 + 80.0 * gone
