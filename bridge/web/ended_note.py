"""A note that has ended, as the board tells it: where it began, settled, and how far it went."""

from __future__ import annotations

from statistics import median
from typing import Any

import numpy as np

from bridge.base.events import NoteOn
from bridge.base.units import CENTS_PER_OCTAVE
from bridge.quantise.third import ThirdZone
from bridge.takes.finished import Finished
from bridge.web.trail import Way
from bridge.web.words import THIRDS, pitch_words

#: A reed's first cycles are irregular, and at its end it lets go, in seconds.
_ATTACK_S, _RELEASE_S = 0.03, 0.02
#: Where a note begins is looked for in so long, in seconds, and where it settles in the last part of it.
_BEGIN_S = 0.05
_SETTLED = 0.5
#: The lowest and the highest are read without slips.
_SLIPS = 0.05
_MOST_POINTS = 1000
#: A way shorter than this is no movement but a note held by a human, in cents.
_MOVED_CENTS = 25.0


class NoteWay:
    """The way of the note that begins with ``on``."""

    def __init__(self, on: NoteOn) -> None:
        self._on = on
        self._start_s = on.time_s
        self._way = Way(_MOST_POINTS)
        self._clean: list[float] = []
        self._last: float | None = None

    def add(self, at_s: float, cents: float, clean: float | None = None) -> None:
        """Take the pitch of a moment, -50 to 1150 cents; what lies before the note is passed over.

        A way that crosses the fold goes on beyond it.
        """
        if at_s < self._start_s:
            return
        if self._last is not None:
            cents += CENTS_PER_OCTAVE * round((self._last - cents) / CENTS_PER_OCTAVE)
        self._last = cents
        self._way.add(at_s, cents)
        if clean is not None and len(self._clean) < _MOST_POINTS:
            self._clean.append(clean)

    def told(self, end_s: float, finished: Finished, zone: ThirdZone) -> dict[str, Any]:
        """All there is to tell, cents above the root; nulls where no pitch was heard."""
        points = [point for point in self._way.points if point[0] <= end_s]
        inner = [cents for at_s, cents in points if self._start_s + _ATTACK_S <= at_s <= end_s - _RELEASE_S]
        inner = inner or [cents for _, cents in points]
        begin_s = self._start_s + _ATTACK_S
        begin = [cents for at_s, cents in points if begin_s <= at_s <= begin_s + _BEGIN_S] or inner
        settle = inner[int(len(inner) * _SETTLED) :]
        low, high = np.quantile(inner, (_SLIPS, 1.0 - _SLIPS)) if inner else (None, None)
        return {
            "id": self._on.note_id,
            "midi_note": self._on.midi_note,
            "name": finished.name,
            "degree": finished.degree,
            "tab": finished.tab,
            "start": round(finished.start_s, 3),
            "length": round(finished.length_s, 3),
            "begin": _tenths(median(begin) if begin else None),
            "settle": _tenths(median(settle) if settle else None),
            "low": _tenths(low),
            "high": _tenths(high),
            "under_straight": _tenths(zone.straight - median(settle) if settle else None),
            "blueness": round(finished.blueness, 2),
            "clean": round(median(self._clean), 2) if self._clean else None,
            "words": _words(finished, median(begin), median(settle), zone) if settle else finished.words(),
        }


def _words(finished: Finished, begin: float, settle: float, zone: ThirdZone) -> str:
    """The note in words; of a third where it began and settled, by the zones of the map."""
    if finished.degree not in THIRDS:
        return finished.words()
    settled = pitch_words(settle, finished.degree, zone)
    moved = f"begun {pitch_words(begin, finished.degree, zone)}; " if abs(settle - begin) >= _MOVED_CENTS else ""
    return f"{' '.join(filter(None, (finished.name, finished.tab)))}, {finished.length_s:.1f} s: {moved}{settled}"


def _tenths(cents: float | None) -> float | None:
    return None if cents is None else round(float(cents), 1)
