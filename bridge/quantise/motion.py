"""Whether a pitch glides or has jumped to another hole."""

from __future__ import annotations

from collections import deque
from typing import Literal

from bridge.quantise.settings import JumpSettings

#: ``doubtful``: torn off from the glide, but it may still be a stray frame.
Motion = Literal["glides", "doubtful", "jumped"]

#: Between two frames a glide may also move this much, since no follower is free of jitter, and so much more the less
#: sure the follower is: in the echoes of a room a fast bend comes out unevenly.
_JITTER_CENTS = 8.0
_DOUBTFUL_CENTS = 20.0
#: While a reed comes up to its pitch it may move so much more, this long, in seconds: measured on sampled harmonica.
_SPEAKING_CENTS = 8.0
_SPEAKING_S = 0.03
#: A pitch lost for longer than this, in seconds, may have moved on meanwhile. It is lost where there is none, or where
#: the follower is less sure than this: in a room a fast bend runs through its own echoes.
_GAP_S = 0.004
_LOST = 0.8


class PitchMotion:
    """Follows the pitch of one note and tells a jump from a bend, a vibrato or a stray frame.

    A pitch that moves far within a short time, and not in one unbroken slide that lips and tongue could make, is torn
    off. It is then doubtful until it comes back (a stray) or has held still for a while (a jump). Cents are above any
    fixed reference, times in seconds and never going back.
    """

    def __init__(self, settings: JumpSettings) -> None:
        self._far = settings.cents
        self._within_s = settings.within_ms / 1000.0
        self._slide_per_s = settings.slide_cents_per_ms * 1000.0
        self._hold_s = settings.hold_ms / 1000.0
        self._steady_cents = settings.steady_cents
        self._glide: deque[tuple[float, float]] = deque()
        self._broken_s = self._began_s = 0.0
        self._in_doubt = False
        #: The least confidence since the doubt began; 0 while there is none.
        self._least_sure = 0.0
        self._still_since = 0.0
        self._still_at = 0.0
        #: When the pitch was torn off; of use while doubtful or jumped.
        self.left_s = 0.0

    def begin(self, time_s: float, cents: float) -> None:
        """Forget everything: a note begins here."""
        self._began_s = time_s
        self._broken_s = time_s - 2.0 * self._within_s
        self._glide_on(time_s, cents, afresh=True)

    def move(self, time_s: float, cents: float, confidence: float) -> Motion:
        """Judge the next frame, of the follower's ``confidence`` 0..1; call after :meth:`begin`."""
        last_s, last = self._glide[-1]
        if self._in_doubt:
            self._least_sure = min(self._least_sure, confidence)
        if time_s - last_s > _GAP_S and self._least_sure < _LOST and self._leads_to(time_s, cents):
            self._glide_on(time_s, cents, afresh=True)
            return "glides"
        jitter = _JITTER_CENTS + _DOUBTFUL_CENTS * (1.0 - confidence)
        if time_s - self._began_s < _SPEAKING_S:
            jitter += _SPEAKING_CENTS
        if abs(cents - last) > min(self._far, self._slide_per_s * (time_s - last_s) + jitter):
            self._broken_s = time_s
        if self._is_near(cents) or not (self._in_doubt or time_s - self._broken_s < self._within_s):
            self._glide_on(time_s, cents)
            return "glides"
        if not self._in_doubt:
            self._in_doubt = True
            self._least_sure = confidence
            self.left_s = self._still_since = time_s
            self._still_at = cents
        elif abs(cents - self._still_at) > self._steady_cents:
            self._still_since = time_s
            self._still_at = cents
        return "jumped" if time_s - self._still_since >= self._hold_s else "doubtful"

    def _glide_on(self, time_s: float, cents: float, *, afresh: bool = False) -> None:
        """The pitch belongs to the glide; ``afresh`` where what came before tells nothing of where it may go."""
        glide = self._glide
        if afresh:
            glide.clear()
        glide.append((time_s, cents))
        while time_s - glide[0][0] > self._within_s:
            glide.popleft()
        self._in_doubt = False
        self._least_sure = 0.0

    def _leads_to(self, time_s: float, cents: float) -> bool:
        """Whether the glide, had it gone on while the pitch was lost, passed near here."""
        first_s, first = self._glide[0]
        last_s, last = self._glide[-1]
        slope = (last - first) / max(last_s - first_s, _GAP_S)
        reached = last + slope * (time_s - last_s)
        return min(last, reached) - self._far <= cents <= max(last, reached) + self._far

    def _is_near(self, cents: float) -> bool:
        # All of them: the oldest shows a jump smeared over several frames, the later ones a jump back.
        lowest, highest = cents - self._far, cents + self._far
        return all(lowest <= then <= highest for _, then in self._glide)
