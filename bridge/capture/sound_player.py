"""A sound file, or a part of it, played through the sound card: once or round and round, and when it is heard."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Iterator
from itertools import count
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from bridge.base.errors import SoundError, UserError
from bridge.capture.devices import find_output
from bridge.capture.sound_file import SoundFile
from bridge.capture.sound_system import list_devices, sound_library

Sound = NDArray[np.float32]

#: Samples that the sound card takes at once, and how much sound is read ahead of it, in seconds.
_BLOCK = 256
_AHEAD_S = 2.0
#: Samples read at once, and how long the reader waits for room before it looks whether it shall end, in seconds.
_PIECE, _ROOM_S = 4096, 0.2
#: No sound card asks for samples less often than this, in seconds: one that does has stopped.
_STOPPED_S = 1.0
#: So many calls, some seconds, are looked at for when it began: clocks drift little meanwhile, and a card that has
#: lost some time is followed after them.
_CALLS = 500


class SoundPlayer:
    """Plays ``path`` from ``from_s`` to ``to_s``, over and over where ``loop``, while the ``with`` lasts.

    ``output`` names the device as in :func:`find_output`. A reader of its own keeps ``_AHEAD_S`` seconds ready, so that
    nothing in the sound card's call has to wait.
    """

    def __init__(
        self, path: Path, from_s: float, to_s: float, *, loop: bool = False, output: str | int = "default"
    ) -> None:
        self._path = path
        self._part = (from_s, to_s)
        self._loop = loop
        self._wanted = output
        self._stream: Any = None
        self._rate = 48000
        self._blocks: deque[Sound] = deque()
        self._room = threading.Event()
        self._ends = threading.Event()
        self._read_all = False
        self._reader: threading.Thread | None = None
        self._failure: str | None = None
        self._played = 0
        self._lacked = 0
        self._told_s: deque[float] = deque(maxlen=_CALLS)
        self._called_s = 0.0

    def __enter__(self) -> Self:
        """Begin to read and to play. Raises UserError when the device or the sound cannot be used."""
        sound = sound_library()
        device = find_output(list_devices(), self._wanted)
        self._rate = round(device.rate_hz)
        with SoundFile(self._path, self._rate):
            pass
        try:
            self._stream = sound.OutputStream(
                samplerate=self._rate,
                blocksize=_BLOCK,
                device=device.number,
                channels=min(2, device.output_channels),
                dtype="float32",
                latency="low",
                callback=self._called,
            )
            self._reader = threading.Thread(target=self._read, name="sound of a take", daemon=True)
            self._reader.start()
            self._called_s = time.monotonic()
            self._stream.start()
        except sound.PortAudioError as error:
            self._close()
            raise UserError(
                f"The sound output {device.described('output')} cannot be used: {error}. Choose another with --output, "
                "or leave out --sound."
            ) from error
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._close()

    @property
    def ready(self) -> bool:
        """Whether the next block is there, or none will come any more."""
        return bool(self._blocks) or self._read_all

    def begun_s(self) -> float | None:
        """When the first sample is heard, in seconds of the monotonic clock, as exactly as known by now."""
        # A call may come late, never early: of the last ones that is right which says earliest.
        return min(tuple(self._told_s), default=None)

    def trouble(self, now_s: float) -> str | None:
        """What is wrong, in one line, at this time of the monotonic clock; None if nothing is."""
        if self._failure is not None:
            return self._failure
        if now_s - self._called_s > _STOPPED_S:
            return "The sound output stopped: the notes go on without it."
        if self._lacked:
            return "The sound had gaps: the machine was too busy."
        return None

    def _called(self, outgoing: Sound, frames: int, times: Any, status: Any) -> None:  # noqa: ANN401, ARG002
        """Give the next block, shape (frames, channels): nothing here may wait."""
        self._called_s = time.monotonic()
        heard_s = self._called_s + max(0.0, times.outputBufferDacTime - times.currentTime)
        self._told_s.append(heard_s - self._played / self._rate)
        if self._blocks:
            outgoing[:] = self._blocks.popleft()[:, np.newaxis]
            self._played += frames
        elif self._read_all:
            outgoing[:] = 0.0
            self._played += frames
        else:
            # What is missing comes later, and all after it too.
            outgoing[:] = 0.0
            self._lacked += 1
        self._room.set()

    def _read(self) -> None:
        """Be the reader: keep blocks ready until there are no more."""
        waiting: Sound = np.zeros(0, np.float32)
        try:
            for piece in self._pieces():
                waiting = np.concatenate((waiting, piece))
                whole = len(waiting) // _BLOCK * _BLOCK
                for block in waiting[:whole].reshape(-1, _BLOCK):
                    self._hand_on(block)
                waiting = waiting[whole:]
            self._hand_on(np.concatenate((waiting, np.zeros(_BLOCK - len(waiting), np.float32))))
        except (SoundError, OSError) as error:
            self._failure = f"The sound breaks off: {error}"
        self._read_all = True

    def _pieces(self) -> Iterator[Sound]:
        """The part, over and over where it loops, each round beginning on the sample nearest to its time."""
        length_s = self._part[1] - self._part[0]
        for number in count() if self._loop else range(1):
            begin, end = (round(rounds * length_s * self._rate) for rounds in (number, number + 1))
            yield from self._part_of(end - begin)
            if self._ends.is_set():
                return

    def _part_of(self, size: int) -> Iterator[Sound]:
        """``size`` samples from the beginning of the part on; silence where the file has no more."""
        first = round(self._part[0] * self._rate)
        given = 0
        with SoundFile(self._path, self._rate, _PIECE) as file:
            while given < size and (block := file.read(0.0)) is not None and not self._ends.is_set():
                piece = block.samples[max(0, first - block.start) :][: size - given]
                given += len(piece)
                if len(piece):
                    yield piece
        if given < size:
            yield np.zeros(size - given, np.float32)

    def _hand_on(self, block: Sound) -> None:
        """Put a block behind the others, once there is room."""
        while len(self._blocks) * _BLOCK > _AHEAD_S * self._rate and not self._ends.is_set():
            self._room.clear()
            self._room.wait(_ROOM_S)
        self._blocks.append(block)

    def _close(self) -> None:
        self._ends.set()
        self._room.set()
        stream, self._stream = self._stream, None
        if stream is not None:
            stream.close(ignore_errors=True)
        if self._reader is not None:
            self._reader.join()
