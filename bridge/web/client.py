"""One page that looks at the board: what it is owed, and what it may still send."""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Sequence

from bridge.base.timings import Timings
from bridge.web.guard import Role

#: What is told once and not yet sent; the oldest goes first when a page is too slow.
_MOST_OWED = 32
#: Messages a second that a page may send, and how many at once: it answers each picture, and somebody may press keys.
_MESSAGES_PER_S = 150.0
_MESSAGES_AT_ONCE = 300.0
#: Sound is to be on the page within this, in seconds.
WANTED_S = 0.060


class Client:
    """A page of a ``role`` that came at ``now_s`` (monotonic seconds, like all times here).

    A picture is sent only after the one before it has been acknowledged, and not before it is ``due``; what is told
    once waits in between. So what is on its way to a page that does not read is never more than one picture and 32
    messages. ``delays`` counts how long the sound, a moment each 10 ms, took until the picture of it was acknowledged.
    """

    def __init__(self, role: Role, now_s: float) -> None:
        self.role = role
        self.wake = asyncio.Event()
        self.delays = Timings(WANTED_S)
        #: Number of the trail's point, and of the sound, from which on the page has not been given any.
        self.next_point = 0
        self.next_sound = 0
        self.version = -1
        self._owed: deque[str] = deque(maxlen=_MOST_OWED)
        self._number = 0
        self._waits = False
        self._sent_s = now_s
        self._sounds_s: Sequence[float] = ()
        self._due_s = now_s
        self._allowance = _MESSAGES_AT_ONCE
        self._heard_s = now_s

    def owe(self, text: str) -> None:
        """Tell it this with the next picture."""
        self._owed.append(text)

    def take_owed(self) -> list[str]:
        """What is to be told before the next picture."""
        owed = list(self._owed)
        self._owed.clear()
        return owed

    def may_have(self, version: int, now_s: float) -> bool:
        """Whether a picture of this version can go out now; one it has seen only when something is owed with it."""
        return not self._waits and now_s >= self._due_s and (version != self.version or bool(self._owed))

    def begin_picture(self, version: int, now_s: float, interval_s: float, sounds_s: Sequence[float]) -> int:
        """Number of the picture that goes out now; ``sounds_s`` is when the sound that is new in it came in."""
        self._number += 1
        self._waits = True
        self.version = version
        self._sent_s, self._sounds_s = now_s, sounds_s
        # Counted from when it was due, so that a loop that wakes a little late does not slow the pictures down.
        self._due_s = max(self._due_s + interval_s, now_s)
        return self._number

    def seen(self, number: int, now_s: float) -> bool:
        """The page has drawn that picture; False when it is not the one that was sent."""
        if not self._waits or number != self._number:
            return False
        self._waits = False
        for came_s in self._sounds_s:
            self.delays.add(now_s - came_s)
        return True

    def unread_s(self, now_s: float) -> float:
        """For how long a picture has been waiting to be acknowledged; 0 when none is."""
        return now_s - self._sent_s if self._waits else 0.0

    def may_send(self, now_s: float) -> bool:
        """Count one message from the page; False when there are too many."""
        self._allowance += (now_s - self._heard_s) * _MESSAGES_PER_S
        self._allowance = min(self._allowance, _MESSAGES_AT_ONCE) - 1.0
        self._heard_s = now_s
        return self._allowance >= 0.0
