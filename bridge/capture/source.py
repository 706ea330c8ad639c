"""What every source of sound promises, whether a microphone, a sound file or the rehearsal."""

from __future__ import annotations

from collections.abc import Sequence
from types import TracebackType
from typing import Protocol, Self

import numpy as np
from numpy.typing import NDArray

from bridge.base.errors import ClosedError
from bridge.base.events import AudioBlock

#: A sound card's source gives at most so much at once, in seconds.
MOST_S = 0.05


class Source(Protocol):
    """A stream of mono blocks at ``rate`` Hz; as a context manager it is open inside the ``with``.

    A source is opened once, read from one thread and closed; closing again does nothing. ``live`` says that the sound
    comes when it comes and waits for nobody, ``endless`` that an end of the stream is a fault. ``dropouts`` counts how
    often the sound system lost some of it, ``repaired`` the values that were no numbers and became 0. ``calls_s`` says,
    of a sound card, when the calls came that the block last read was made of, on the machine's monotonic clock.
    """

    name: str
    rate: int
    live: bool = False
    endless: bool = False
    dropouts: int = 0
    repaired: int = 0
    calls_s: Sequence[float] = ()

    @property
    def lost(self) -> int:
        """How many samples were lost so far because they were not read in time."""
        return 0

    def open(self) -> None:
        """Get ready to be read. Raises SoundError or UserError when there is nothing to read from."""
        ...

    def read(self, timeout_s: float) -> AudioBlock | None:
        """Give the next block, waiting for it up to ``timeout_s`` seconds.

        A block of 0 samples means that nothing came within that time; None that the stream has ended and stays so.
        Raises ClosedError when the source is not open, SoundError when the sound cannot be read any further.
        """
        ...

    def close(self) -> None:
        """Let go of device or file."""
        ...

    def __enter__(self) -> Self:
        """Open on entering a ``with``."""
        self.open()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close on leaving a ``with``, whatever happened inside."""
        self.close()


def no_sound_yet(start: int, rate: int) -> AudioBlock:
    """The block of 0 samples that says that nothing came in time; ``start`` is the index of the next sample."""
    return AudioBlock(start, rate, np.zeros(0, np.float32))


def require_open(name: str, *, is_open: bool) -> None:
    """Raise ClosedError when a source is read that is not open."""
    if not is_open:
        raise ClosedError(f"{name} was read while it was not open")


def without_nonsense(samples: NDArray[np.float32]) -> tuple[NDArray[np.float32], int]:
    """The samples, any shape, with NaN and infinity made 0, and how many there were; unchanged when there were none."""
    sound = np.isfinite(samples)
    wrong = samples.size - int(np.count_nonzero(sound))
    return (np.where(sound, samples, np.float32(0.0)), wrong) if wrong else (samples, 0)
