"""The rehearsal: a synthetic harmonica player as a source, whose pitch is known at every sample."""

from __future__ import annotations

from collections.abc import Sequence

from bridge.base.events import AudioBlock
from bridge.capture.demo_tune import demo_tune
from bridge.capture.passages import Passage, Tuning, join, passages
from bridge.capture.player import Performance, perform
from bridge.capture.source import Source, require_open


def rehearsal_score(
    root_hz: float, reeds_hz: Sequence[float], *, straight_cents: float = 400.0, minor_cents: float = 300.0
) -> Passage:
    """Every passage one after another; :func:`rehearsal_passages` gives them by name.

    ``root_hz`` is the tonic, ``reeds_hz`` every reed of the harp in any order, the rest the player's
    third over the root.
    """
    return join("rehearsal", rehearsal_passages(root_hz, reeds_hz, straight_cents, minor_cents).values())


def rehearsal_passages(
    root_hz: float, reeds_hz: Sequence[float], straight_cents: float = 400.0, minor_cents: float = 300.0
) -> dict[str, Passage]:
    """The passages of the rehearsal by name, each from 0 s on."""
    return passages(Tuning(root_hz, tuple(reeds_hz), straight_cents, minor_cents))


def demo_performance(
    root_hz: float,
    reeds_hz: Sequence[float],
    *,
    straight_cents: float = 400.0,
    minor_cents: float = 300.0,
    rate: int = 48000,
    seed: int = 1,
) -> Performance:
    """The tune of the demo, played."""
    tune = demo_tune(Tuning(root_hz, tuple(reeds_hz), straight_cents, minor_cents))
    return perform(tune.parts, rate, seed, length_s=tune.length_s)


class Rehearsal(Source):
    """A performance as a source, as fast as it is read, in blocks of ``block`` samples (the last may be shorter)."""

    def __init__(self, performance: Performance, block: int = 128) -> None:
        self.name = "rehearsal"
        self.rate = performance.rate
        self.length_s = performance.length_s
        self._samples = performance.samples
        self._block = block
        self._next = 0
        self._open = False

    def open(self) -> None:
        """Go to the beginning."""
        self._next = 0
        self._open = True

    def read(self, timeout_s: float) -> AudioBlock | None:  # noqa: ARG002 - never has to wait
        """Give the next block at once; None after the last."""
        require_open(self.name, is_open=self._open)
        start = self._next
        samples = self._samples[start : start + self._block]
        if not len(samples):
            return None
        self._next += len(samples)
        return AudioBlock(start, self.rate, samples)

    def close(self) -> None:
        """Nothing is held; only reading ends."""
        self._open = False
