"""A MIDI port that is taken up again after it, or its whole MIDI system, went away and came back."""

from __future__ import annotations

import re
from enum import Enum, auto
from typing import Any

from bridge.base.errors import OutputError
from bridge.send.coming_port import Background, ComingPort, in_background
from bridge.send.midi_system import (
    JoinedPort,
    Way,
    abandon,
    let_go,
    let_settle,
    named_port,
    not_ours,
    virtual_port,
)
from bridge.send.port_looker import Seen
from bridge.send.port_return import puzzle, returned
from bridge.send.port_watch import Watch

VIRTUAL = "virtual"
#: Opening again is given so long, in seconds; what comes of it later is of no use.
_OPENING_S = 3.0
#: Before closing, the system is given so long to prove that it lives, in seconds: without, closing might never return.
#: The longer time is for who must know whether all arrived.
_PROOF_S, _WARY_PROOF_S = 1.0, 3.0
#: A system is taken for dead after so many looks without an answer: a busy one may refuse one look.
_BELIEVED = 2
#: JACK's ring holds 16 KiB, a message and four bytes for its length each (rtmidi), and who writes into a full one waits
#: for ever. So no more is sent than this before the system has been seen again.
_UNSEEN_BYTES, _LENGTH_BYTES = 8192, 4


class PortNews(Enum):
    """What became of a port since it was last asked; ``UNCLEAR``: whether it is back, nobody knows."""

    SAME = auto()
    GONE = auto()
    BACK = auto()
    UNCLEAR = auto()


class KeptPort:
    """One port, our own (``virtual``) or one found by part of its name. Without ``watch`` nothing is noticed.

    Our end of it is called ``name``. A ``wary`` one is closed only after a proof that it is there, even if nothing was
    seen of it yet, and waits longer for that.
    """

    def __init__(
        self,
        wanted: str,
        way: Way,
        name: str,
        watch: Watch | None,
        background: Background = in_background,
        *,
        wary: bool = False,
    ) -> None:
        self._wanted = wanted
        self._way = way
        self._back_way: Way = "in" if way == "out" else "out"
        self._name = name
        self._watch = watch
        self._background = background
        self._wary = wary
        self._proof_s = _WARY_PROOF_S if wary else _PROOF_S
        self._own = re.compile(rf"{re.escape(name)}(-\d+)?:")
        self._port: JoinedPort | None = None
        self._coming: ComingPort | None = None
        self._looked: Seen | None = None
        self._own_seen = self._away = False
        self._unseen_bytes = self._unanswered = 0
        self._system = ""
        #: What to call it before the user.
        self.label = ""
        #: Whether it is our own and newly made: nothing is connected to it yet.
        self.is_bare = False
        #: Whether it went away since it was opened, or did not prove to be there at the end: what was sent may be lost.
        self.lost = False
        #: Whether the MIDI system answered when it was last waited for.
        self.answers = True
        #: Why nobody knows whether it is back, and what to do.
        self.puzzle = ""
        self._full_name: str | None = None
        self._before: tuple[str, ...] = ()

    @property
    def client(self) -> Any:  # noqa: ANN401 -- rtmidi has no type information
        """What messages come from; None while there is nothing to read from."""
        return None if self._port is None or self._away else self._port.client

    def send(self, data: bytes) -> None:
        """Send one message, also to a port that only seems to be gone; without one nothing happens.

        Never waits: raises OutputError where the system has not been seen for so long that it may take no more.
        """
        if self._port is None:
            return
        self._unseen_bytes += len(data) + _LENGTH_BYTES
        if self._watch is not None and self._unseen_bytes > _UNSEEN_BYTES:
            raise OutputError(f"The {self.label} takes nothing. Check the MIDI system.")
        self._port.client.send_message(data)

    def open(self) -> bool:
        """Open it; False when it is our own and no system offers that. Raises OutputError when it cannot be had."""
        try:
            port = self._found(self._wanted, None)
        except (OSError, RuntimeError) as error:
            raise OutputError(
                f"The MIDI port {self._wanted!r} could not be opened ({error}). Check the MIDI system, or give none."
            ) from error
        if port is None:
            return False
        self._take(port)
        self.lost = False
        self._system = port.system
        if self._watch is not None:
            self._watch.open(port.system)
        return True

    def attend(self, now_s: float) -> PortNews:
        """What became of it, at that time in monotonic seconds; never waits. ``GONE`` and ``BACK`` take turns."""
        if self._watch is None or (self._port is None and not self._away):
            return PortNews.SAME
        if self._coming is not None:
            return self._look_after(self._coming, now_s)
        seen = self._watch.seen
        if seen is None or seen is self._looked or not self._believes(seen):
            return PortNews.SAME
        is_there, own = self._is_there(seen), self._has_own(seen)
        if not self._away:
            self._own_seen |= own
            self._away = not is_there
            if is_there:
                self._before = seen.names(self._system, self._way)
            self.lost |= self._away
            return PortNews.GONE if self._away else PortNews.SAME
        if is_there and own and self._wanted == VIRTUAL:
            # The system was held up, and what it had it still has.
            self._away = self.is_bare = False
            return PortNews.BACK
        return self._look_for(seen, now_s, alive=own)

    def _look_for(self, seen: Seen, now_s: float, *, alive: bool) -> PortNews:
        """Have the one that went away opened again, if it is among what is seen."""
        if not seen.answers(self._system):
            return PortNews.SAME
        if self._full_name is None:
            self._begin(self._wanted, now_s, alive=alive)
            return PortNews.SAME
        names = not_ours(list(seen.names(self._system, self._way)), self._way)
        name = returned(self._wanted, self._full_name, names)
        if name is not None:
            self._begin(name, now_s, alive=alive)
            return PortNews.SAME
        told, self.puzzle = self.puzzle, puzzle(self._wanted, names, self._before)
        return PortNews.UNCLEAR if self.puzzle not in ("", told) else PortNews.SAME

    def _believes(self, seen: Seen) -> bool:
        """Take a new look; whether it is to be believed, as one without an answer is not the first time."""
        self._looked = seen
        if seen.answers(self._system):
            self._unanswered = self._unseen_bytes = 0
            return True
        self._unanswered += 1
        return self._away or self._unanswered >= _BELIEVED

    def proves(self) -> bool:
        """Whether it is there, asked anew and waited for, twice if need be; one that is not counts as gone.

        More can be sent then. What nobody watches, or was not opened, counts as there.
        """
        if self._watch is None or self._port is None or self._away:
            return not self._away
        if any(self._is_there_now(self._watch) for _ in range(_BELIEVED)):
            self._unseen_bytes = 0
        else:
            self._away = self.lost = True
        return not self._away

    def close(self) -> None:
        """Let the last messages out, close it and leave the MIDI system; closing again does nothing."""
        was_open = self._port is not None or self._away
        if self._port is not None and not self._away:
            # Before anything is asked: a system that is only too busy to answer still fetches what was sent.
            self._settle(self._port)
        lives = self._port is not None and not self._away and self._lives()
        self.lost |= was_open and not lives
        port, self._port = self._port, None
        self._away = False
        if self._coming is not None:
            self._coming.give_up()
            self._coming = None
        if port is not None:
            (let_go if lives else abandon)(port)
        if was_open and self._watch is not None:
            self._watch.close(self._system)

    def _found(self, wanted: str, system: str | None) -> JoinedPort | None:
        """The port, newly opened and ready to take messages."""
        port: JoinedPort | None
        if self._wanted == VIRTUAL:
            port = virtual_port(self._name, self._way, system)
        else:
            port = named_port(wanted, self._name, self._way, system)
        if port is not None and (self._wanted != VIRTUAL or system is not None):
            self._settle(port)
        return port

    def _settle(self, port: JoinedPort) -> None:
        if self._way == "out":
            let_settle(port.client)

    def _take(self, port: JoinedPort) -> None:
        self._port = port
        self._away = self._own_seen = False
        self._unseen_bytes = 0
        self.puzzle = ""
        name = self._full_name = port.full_name
        self.is_bare = name is None
        self.label = f"MIDI port {name!r}" if name is not None else f"MIDI port {self._name!r} of our own"

    def _is_there(self, seen: Seen) -> bool:
        """Whether the port that is open can be one of those seen; our own end is missed once it was seen."""
        if self._port is None or not seen.answers(self._system):
            return False
        if self._own_seen and not self._has_own(seen):
            return False
        return self._port.full_name is None or self._port.full_name in seen.names(self._system, self._way)

    def _has_own(self, seen: Seen) -> bool:
        return any(map(self._own.match, seen.names(self._system, self._back_way)))

    def _begin(self, wanted: str, now_s: float, *, alive: bool) -> None:
        """Have ``wanted`` opened again; the old one is closed first where its system has been alive all the time."""
        old, self._port = self._port, None
        if old is not None and not alive:
            abandon(old)
            old = None
        coming = self._coming = ComingPort(now_s)

        def work() -> None:
            try:
                if old is not None:
                    let_go(old)
                port = self._found(wanted, self._system)
            except (OutputError, OSError, RuntimeError, ValueError):
                # It went away again. The next look tells.
                port = None
            coming.finish(port)

        self._background(work)

    def _look_after(self, coming: ComingPort, now_s: float) -> PortNews:
        """Take the port that was opened again, or give up one that takes too long."""
        if not coming.done:
            if now_s - coming.since_s > _OPENING_S:
                coming.give_up()
                self._coming = None
            return PortNews.SAME
        self._coming = None
        if coming.port is None:
            return PortNews.SAME
        self._take(coming.port)
        # What was seen so far was seen before it was there.
        self._looked = self._watch.seen if self._watch is not None else None
        return PortNews.BACK

    def _lives(self) -> bool:
        """Whether the MIDI system proves that it lives; also where nobody looks or, unless wary, has looked yet."""
        if self._watch is None or (self._watch.seen is None and not self._wary):
            return True
        return self._is_there_now(self._watch)

    def _is_there_now(self, watch: Watch) -> bool:
        """Whether it is in a look taken now, which is waited for."""
        seen = watch.look_now(self._proof_s)
        self.answers = seen is not None and seen.answers(self._system)
        return seen is not None and self._is_there(seen)
