"""``reedwire play`` on a silent sound card: a program that plays into it and hears its MIDI, an ear for its OSC.

Nothing here waits for a fixed time: every step waits for what must have happened, as long as it takes.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import numpy as np

from main_job import jack_player
from main_job.command import PATIENCE_S, REEDWIRE, Said, free_port
from main_job.osc_ear import Message, OscEar
from parts import running

_POLL_S = 0.02


def wait_until(what: str, holds: Callable[[], bool], alive: Callable[[], bool] = lambda: True) -> None:
    """Wait until ``holds``; fails with ``what`` when ``alive`` no longer is true, or beyond all patience."""
    until = time.monotonic() + PATIENCE_S
    while not holds():
        assert alive(), f"ended before: {what}"
        assert time.monotonic() < until, f"never: {what}"
        time.sleep(_POLL_S)


class Player:
    """The program ``jack_player`` while the ``with`` lasts; ``told`` is what it has said so far."""

    def __init__(self, samples: Path, env: Mapping[str, str]) -> None:
        self.told: list[dict[str, Any]] = []
        self._opened = ExitStack()
        self._command = [sys.executable, jack_player.__file__, str(samples)]
        self._env = env

    def __enter__(self) -> Self:
        pipes: dict[str, object] = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.DEVNULL}
        self._process = self._opened.enter_context(running(self._command, env=self._env, **pipes))
        self._thread = threading.Thread(target=self._listen, daemon=True)
        self._thread.start()
        self.wait_for("ready")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._opened.close()
        self._thread.join()
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                pipe.close()

    def order(self, words: str) -> None:
        """Tell it what to do."""
        assert self._process.stdin is not None
        self._process.stdin.write(f"{words}\n".encode())
        self._process.stdin.flush()

    def said(self, what: str) -> list[dict[str, Any]]:
        """What it said of this kind so far."""
        return [line for line in self.told[:] if line["is"] == what]

    def wait_for(self, what: str, count: int = 1) -> None:
        """Wait until it has said this so many times."""
        wait_until(
            f"the player has {what}", lambda: len(self.said(what)) >= count, lambda: self._process.poll() is None
        )

    def end(self) -> None:
        """Let it hear what is still on its way, and end it."""
        self.order("end")
        wait_until("the player has ended", lambda: bool(self.said("ended")))

    def kill(self) -> None:
        """End it where it cannot end by itself, because its server is dead."""
        self._process.kill()
        self._process.wait()

    @property
    def midi(self) -> list[bytes]:
        """The messages heard so far."""
        return [bytes.fromhex(line["data"]) for line in self.said("midi")]

    def _listen(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self.told.append(json.loads(line))


@dataclass(frozen=True)
class Live:
    """A performance that runs: the program of the tests, the ear, the command and where commands go in."""

    player: Player
    ear: OscEar
    process: subprocess.Popen[bytes]
    commands_port: int
    folder: Path

    def wait_until(self, what: str, holds: Callable[[], bool]) -> None:
        """Wait until ``holds``; fails with what the command said if it ends before."""
        try:
            wait_until(what, holds, lambda: self.process.poll() is None)
        except AssertionError as error:
            error.add_note(f"status {self.process.poll()}: " + (self.folder / "err.txt").read_text(encoding="utf-8"))
            raise

    def notes_begun(self) -> int:
        """How many Note Ons have been heard."""
        return sum(is_note_on(data) for data in self.player.midi)

    def said_so_far(self) -> str:
        """What the command has written to its standard output."""
        return (self.folder / "out.txt").read_text(encoding="utf-8")

    def ended(self) -> Heard:
        """Wait for the command and all it started to end, then everything that was heard."""
        self.process.wait(PATIENCE_S)
        wait_until("nothing of the command's is left running", lambda: not _group_lives(self.process.pid))
        self.player.end()
        out, err = ((self.folder / name).read_text(encoding="utf-8") for name in ("out.txt", "err.txt"))
        played = self.player.said("played")
        return Heard(
            Said(self.process.returncode, out, err),
            self.player.midi,
            self.ear.messages,
            played[0]["xruns"] if played else 0,
        )


@dataclass(frozen=True)
class Heard:
    """All that came of a performance; ``xruns`` counts how often the machine was too slow for the sound card."""

    said: Said
    midi: list[bytes]
    osc: list[Message]
    xruns: int


def is_note_on(data: bytes) -> bool:
    """Whether a message is a Note On (status 9n with a velocity above 0; MIDI 1.0, 4.2.1)."""
    return data[0] & 0xF0 == 0x90 and data[2] > 0


@contextmanager
def performance(
    folder: Path,
    samples: np.ndarray,
    env: Mapping[str, str],
    arguments: tuple[str, ...],
    words: tuple[str, ...] = ("play",),
) -> Iterator[Live]:
    """``reedwire play``, or other ``words``, with ``arguments`` on the JACK of ``env``, in a process group apart."""
    folder.mkdir(parents=True)
    np.save(folder / "sound.npy", samples.astype(np.float32))
    commands_port = free_port()
    with (
        OscEar() as ear,
        Player(folder / "sound.npy", env) as player,
        (folder / "out.txt").open("wb") as out,
        (folder / "err.txt").open("wb") as err,
    ):
        command = [REEDWIRE, *words, "--osc", f"127.0.0.1:{ear.port}", "--set", "send.midi.bend_range=12"]
        command += ["--set", f"send.osc.listen=127.0.0.1:{commands_port}", *arguments]
        pipes: dict[str, object] = {"stdin": subprocess.DEVNULL, "stdout": out, "stderr": err}
        with running(command, env=env, cwd=folder, start_new_session=True, **pipes) as process:
            yield Live(player, ear, process, commands_port, folder)


def _group_lives(group: int) -> bool:
    """Whether any process of a group of our own is left."""
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    return True
