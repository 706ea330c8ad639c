"""One way out to MIDI: a port of our own, or one that is there, found by part of its name."""

from __future__ import annotations

from collections.abc import Callable

from bridge.base.errors import ClosedError, OutputError
from bridge.send.coming_port import Background, in_background
from bridge.send.kept_port import VIRTUAL, KeptPort, PortNews
from bridge.send.midi_system import CLIENT_NAME
from bridge.send.port_watch import Watch


class MidiPort:
    """One way out to MIDI: ``auto``, ``virtual`` or part of a port's name.

    ``auto`` is our own virtual port where the machine has a MIDI system, otherwise one ``notice`` and silence;
    ``virtual`` and a name raise OutputError when they cannot be had. With a ``watch`` a port that goes away and comes
    back is told to ``notice`` and, when attended to, taken up again; ``once`` is for who ends when it goes away.
    """

    def __init__(
        self,
        wanted: str,
        notice: Callable[[str], None],
        *,
        name: str = CLIENT_NAME,
        watch: Watch | None = None,
        background: Background = in_background,
        once: bool = False,
    ) -> None:
        self._wanted = wanted
        self._notice = notice
        self._once = once
        kept = VIRTUAL if wanted == "auto" else wanted
        self._port = KeptPort(kept, "out", name, watch, background, wary=once)
        self._is_open = False

    @property
    def lost(self) -> bool:
        """Whether it went away since it was opened, or was not there when it was closed: what was sent may be lost."""
        return self._port.lost

    @property
    def answers(self) -> bool:
        """Whether the MIDI system answered when a proof was last waited for."""
        return self._port.answers

    def open(self) -> None:
        """Open the port; raises OutputError that lists the ports there are when the name fits none or several."""
        if self._is_open:
            return
        if not self._port.open():
            advice = "No MIDI system that offers virtual ports was found on this machine (ALSA, CoreMIDI or JACK)."
            if self._wanted == VIRTUAL:
                raise OutputError(f"{advice} Start one, or choose another port or none.")
            self._notice(f"{advice} Going on without MIDI.")
        self._is_open = True

    def send(self, data: bytes) -> None:
        """Send one message without waiting; without a MIDI system nothing happens.

        Raises ClosedError when not open, OutputError when the system does not answer.
        """
        if not self._is_open:
            raise ClosedError("This MIDI port is closed: open it before sending.")
        self._port.send(data)

    def attend(self, now_s: float) -> PortNews:
        """What became of the port, at that time in monotonic seconds; never waits."""
        if self._once and self._port.lost:
            return PortNews.SAME
        news = self._port.attend(now_s)
        if news is PortNews.GONE:
            later = "" if self._once else " Playing goes on; it is taken up again when it is back."
            self._notice(f"The {self._port.label} is gone.{later}")
        elif news is PortNews.BACK:
            again = " If nothing sounds, connect it to your synth again." if self._port.is_bare else ""
            self._notice(f"The {self._port.label} is back.{again}")
        elif news is PortNews.UNCLEAR:
            self._notice(self._port.puzzle)
        return news

    def proves(self) -> bool:
        """Whether the port is there, waiting for the proof; more can be sent then. Without a MIDI system it is."""
        return self._port.proves()

    def close(self) -> None:
        """Let the last messages out, close the port and leave the MIDI system."""
        self._is_open = False
        self._port.close()
