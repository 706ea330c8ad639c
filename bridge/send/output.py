"""What an output is, and the fan-out in which one that fails never stops another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from bridge.base.errors import ClosedError
from bridge.base.events import Event
from bridge.send.pitch import SentPitch

#: An output that has not failed for so long, in seconds, works again.
WORKS_S = 2.0


class Output(Protocol):
    """Somewhere events go. Open it first; after closing it may be opened again."""

    @property
    def name(self) -> str:
        """What messages to the user call it."""
        ...

    def open(self) -> None:
        """Take hold of the port or socket; raises UserError when it cannot be had."""
        ...

    def send(self, event: Event) -> None:
        """Send one event without waiting; raises ClosedError when not open, anything else when it fails."""
        ...

    def attend(self, now_s: float) -> None:
        """Called between events, at least every 50 ms, with monotonic seconds: see to the port, without waiting.

        Raises ClosedError when not open, anything else when it fails.
        """
        ...

    def panic(self) -> None:
        """End everything that may sound; raises ClosedError when not open."""
        ...

    def close(self) -> None:
        """End what sounds and let go, also of what an ``open`` that failed took hold of; closing again does nothing."""
        ...


class Outputs:
    """Several outputs as one.

    ``on_failure(name, error)`` is called once for each outage of an output: at its first failure, and again when it has
    worked for :data:`WORKS_S` since. It is tried again with every event, since a cable or network may come back.
    ``pitch`` is what they send by, where they share one.
    """

    name = "outputs"

    def __init__(
        self,
        outputs: Sequence[Output],
        on_failure: Callable[[str, Exception], None],
        pitch: SentPitch | None = None,
    ) -> None:
        self._outputs = tuple(outputs)
        self._pitch = pitch
        self._on_failure = on_failure
        #: When each output that is out failed last, in monotonic seconds.
        self._failed: dict[int, float] = {}
        self._now_s = 0.0
        self._is_open = False

    def open(self) -> None:
        """Open all in order; when one cannot be opened, close it and those before it, and raise its error."""
        for index, output in enumerate(self._outputs):
            try:
                output.open()
            except BaseException:
                for opened in reversed(self._outputs[: index + 1]):
                    self._guard(opened, opened.close)
                raise
        self._is_open = True

    def send(self, event: Event) -> None:
        """Send to all."""
        self._check_open()
        for output in self._outputs:
            try:
                output.send(event)
            except Exception as error:  # noqa: BLE001 -- whatever it is, the others go on
                self._fail(output, error)

    def attend(self, now_s: float) -> None:
        """Let each see to its port; call it between blocks, at least every 50 ms, with monotonic seconds."""
        self._check_open()
        self._now_s = now_s
        for output in self._outputs:
            try:
                output.attend(now_s)
            except Exception as error:  # noqa: BLE001 -- whatever it is, the others go on
                self._fail(output, error)
        if self._failed:
            self._failed = {out: failed_s for out, failed_s in self._failed.items() if now_s - failed_s < WORKS_S}

    def tune_to(self, tuning_offset_cents: float) -> None:
        """From the next note on send the pitch of a harp that is tuned so far above A4 = 440 Hz."""
        if self._pitch is not None:
            self._pitch.tune_to(tuning_offset_cents)

    def panic(self) -> None:
        """Silence all."""
        self._check_open()
        for output in self._outputs:
            self._guard(output, output.panic)

    def close(self) -> None:
        """Close all, the last opened first."""
        if not self._is_open:
            return
        self._is_open = False
        for output in reversed(self._outputs):
            self._guard(output, output.close)

    def _guard(self, output: Output, action: Callable[[], None]) -> None:
        try:
            action()
        except Exception as error:  # noqa: BLE001 -- whatever it is, the others go on
            self._fail(output, error)

    def _fail(self, output: Output, error: Exception) -> None:
        told = id(output) in self._failed
        self._failed[id(output)] = self._now_s
        if not told:
            self._on_failure(output.name, error)

    def _check_open(self) -> None:
        if not self._is_open:
            raise ClosedError("These outputs are closed: open them before sending.")
