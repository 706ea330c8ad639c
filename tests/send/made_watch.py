"""A watch over made-up MIDI ports, for tests."""

from __future__ import annotations

from collections.abc import Callable

from bridge.send.port_looker import Seen


class MadeWatch:
    """Sees what it is told to see; ``watched`` lists the systems it was asked to look at, for each open port."""

    def __init__(self) -> None:
        self.seen: Seen | None = None
        self.watched: list[str] = []
        self.answers = True

    def open(self, system: str) -> None:
        """One more port."""
        self.watched.append(system)

    def look_now(self, _within_s: float) -> Seen | None:
        """The last look, or none when nothing answers."""
        return self.seen if self.answers else Seen()

    def close(self, system: str) -> None:
        """One port less."""
        self.watched.remove(system)

    def sees(self, system: str, *, takes: tuple[str, ...] = (), gives: tuple[str, ...] = ()) -> None:
        """These ports are there now."""
        self.seen = Seen({system: takes}, {system: gives})

    def sees_nothing(self) -> None:
        """No MIDI system answers."""
        self.seen = Seen()


class Later:
    """Work for another thread, done when the test says so."""

    def __init__(self) -> None:
        self.waiting: list[Callable[[], None]] = []

    def __call__(self, work: Callable[[], None]) -> None:
        """Take it on."""
        self.waiting.append(work)

    def do(self) -> None:
        """Do all of it."""
        waiting, self.waiting = self.waiting, []
        for work in waiting:
            work()
