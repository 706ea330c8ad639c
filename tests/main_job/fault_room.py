"""A performance that is done harm to: what sounds, what was told, and which processes belong to it."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from jack_server import JackServer
from main_job.live import Live, Player, is_note_on, performance
from main_job.live_run import phrase_and_long_note
from soak.memory import children

is_on = is_note_on


@dataclass(frozen=True)
class Stage:
    """A performance and what can be asked of it while it runs."""

    live: Live

    def notes_told(self) -> int:
        """How many notes have begun by OSC."""
        return sum(message.address == "/reedwire/on" for message in self.live.ear.messages)

    def told_sounding(self) -> bool:
        """Whether a note sounds by OSC: begun and not yet ended."""
        notes = [m.address for m in self.live.ear.messages if m.address in ("/reedwire/on", "/reedwire/off")]
        return notes[-1:] == ["/reedwire/on"]

    def wait_for_a_note(self) -> None:
        """Wait until a note sounds."""
        self.live.wait_until("a note sounds", self.told_sounding)

    def wait_for_more(self) -> None:
        """Wait until two more notes have begun, by OSC and by MIDI."""
        told, sent = self.notes_told() + 2, self.live.notes_begun() + 2
        self.live.wait_until("more notes are told", lambda: self.notes_told() >= told)
        self.live.wait_until("more notes are sent", lambda: self.live.notes_begun() >= sent)

    def said(self) -> str:
        """All that the command has written so far."""
        return self.live.said_so_far() + (self.live.folder / "err.txt").read_text(encoding="utf-8")

    def seconds_until(self, what: str, holds: Callable[[], bool]) -> float:
        """Wait until it holds; how long that took."""
        began = time.monotonic()
        self.live.wait_until(what, holds)
        return time.monotonic() - began

    def helpers(self) -> list[int]:
        """The processes that the command started, oldest first; not the one that only minds what they share."""
        return [child for child in children(self.live.process.pid) if "resource_tracker" not in _command(child)]

    @contextmanager
    def another_player(self, server: JackServer) -> Iterator[Player]:
        """A player for a server that was begun again.

        The old one is ended first: JACK wakes clients by their names, and two of one name would share what wakes them.
        """
        self.live.player.kill()
        with Player(self.live.folder / "sound.npy", server.env) as player:
            yield player

    def live_with(self, player: Player) -> Live:
        """The performance, heard by another player from now on."""
        return replace(self.live, player=player)


@contextmanager
def staged(folder: Path, server: JackServer, midi: str, *more: str) -> Iterator[Stage]:
    """``reedwire play`` on that server."""
    with performance(folder, phrase_and_long_note().samples, server.env, ("--midi", midi, *more)) as live:
        yield Stage(live)


def sounding(messages: Iterable[bytes]) -> set[int]:
    """The notes that a receiver on one channel is left with (MIDI 1.0, 4.2.1: 120 and 123 end them all)."""
    left: set[int] = set()
    for data in messages:
        if is_note_on(data):
            left.add(data[1])
        elif data[0] & 0xE0 == 0x80:
            left.discard(data[1])
        elif data[0] & 0xF0 == 0xB0 and data[1] in (120, 123):
            left.clear()
    return left


def _command(process: int) -> str:
    try:
        return Path(f"/proc/{process}/cmdline").read_bytes().decode(errors="replace")
    except OSError:
        return ""
