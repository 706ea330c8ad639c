"""MIDI ports through ALSA, CoreMIDI or JACK, whichever works on this machine. The only file that knows rtmidi."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from bridge.base.errors import ClosedError, OutputError

CLIENT_NAME = "reedwire"
#: JACK fetches messages once a period, up to 0.1 s, and a new connection counts from the next one: what is sent into a
#: port just opened would be lost, and so would the last Note Offs of one closed at once.
JACK_SETTLES_S = 0.25


@dataclass(frozen=True, slots=True)
class MidiPortInfo:
    """A port that takes MIDI: the system it belongs to (``ALSA``, ``JACK``, ...) and its name there."""

    system: str
    name: str


class MidiPort:
    """One way out to MIDI: ``auto``, ``virtual`` or part of a port's name.

    ``auto`` is our own virtual port where the machine has a MIDI system, otherwise one ``notice`` and silence;
    ``virtual`` and a name raise OutputError when they cannot be had.
    """

    def __init__(self, wanted: str, notice: Callable[[str], None], *, name: str = CLIENT_NAME) -> None:
        self._wanted = wanted
        self._notice = notice
        self._name = name
        self._out: Any = None
        self._is_open = False

    def open(self) -> None:
        """Open the port; raises OutputError that lists the ports there are when the name fits none or several."""
        if self._is_open:
            return
        if self._wanted in ("auto", "virtual"):
            self._open_virtual()
        else:
            self._open_named()
        self._is_open = True

    def send(self, data: bytes) -> None:
        """Send one message; without a MIDI system nothing happens. Raises ClosedError when not open."""
        if not self._is_open:
            raise ClosedError("This MIDI port is closed: open it before sending.")
        if self._out is not None:
            self._out.send_message(data)

    def close(self) -> None:
        """Let the last messages out, close the port and leave the MIDI system."""
        self._is_open = False
        if self._out is not None:
            out, self._out = self._out, None
            _let_settle(out)
            out.close_port()
            out.delete()

    def _open_virtual(self) -> None:
        for _, out in _working(self._name):
            try:
                out.open_virtual_port(self._name)
            except (OSError, RuntimeError, NotImplementedError):
                out.delete()
                continue
            self._out = out
            return
        advice = "No MIDI system that offers virtual ports was found on this machine (ALSA, CoreMIDI or JACK)."
        if self._wanted == "virtual":
            raise OutputError(f"{advice} Start one, or choose another port or none.")
        self._notice(f"{advice} Going on without MIDI.")

    def _open_named(self) -> None:
        seen: list[MidiPortInfo] = []
        for system, out in _working(self._name):
            names = out.get_ports()
            seen += [MidiPortInfo(system, name) for name in names]
            fitting = matching(self._wanted, names)
            if len(fitting) == 1:
                # Numbers shift when a device is plugged in or out, so the name is looked up again at the last moment.
                with _told_plainly(self._wanted):
                    out.open_port(out.get_ports().index(fitting[0]), self._name)
                _let_settle(out)
                self._out = out
                return
            out.delete()
            if fitting:
                raise OutputError(f"Several MIDI ports fit {self._wanted!r}: {_listing(fitting)}. Give one in full.")
        there = _listing([port.name for port in seen])
        raise OutputError(
            f"No MIDI port fits {self._wanted!r}. There is: {there}. Or give virtual for a port of our own, or none."
        )


def list_midi_ports() -> list[MidiPortInfo]:
    """Every port that takes MIDI, of every MIDI system that works here; empty when there is none."""
    found = []
    for system, out in _working(CLIENT_NAME):
        found += [MidiPortInfo(system, name) for name in out.get_ports()]
        out.delete()
    return found


def matching(wanted: str, names: list[str]) -> list[str]:
    """The names a user may mean: the exact one, else those containing the words, small or capital."""
    exact = [name for name in names if name == wanted] or [name for name in names if name.lower() == wanted.lower()]
    return exact or [name for name in names if wanted.lower() in name.lower()]


def _listing(names: list[str]) -> str:
    return ", ".join(repr(name) for name in names) or "no port at all"


def _working(client: str) -> Iterator[tuple[str, Any]]:
    """A client of each MIDI system that answers, in the order rtmidi ranks them; the taker deletes it."""
    import rtmidi  # loads the C libraries of the MIDI systems, so only when used

    for api in rtmidi.get_compiled_api():
        if api == rtmidi.API_RTMIDI_DUMMY:
            continue
        try:
            with _quiet_stderr():
                out = rtmidi.MidiOut(api, client)
        except (OSError, RuntimeError):
            continue
        yield rtmidi.get_api_display_name(api), out


def _let_settle(out: Any) -> None:  # noqa: ANN401 -- rtmidi has no type information
    import rtmidi

    if out.get_current_api() == rtmidi.API_UNIX_JACK:
        time.sleep(JACK_SETTLES_S)


@contextmanager
def _told_plainly(wanted: str) -> Iterator[None]:
    """A port that vanished or refused is the user's to mend."""
    try:
        yield
    except (OSError, RuntimeError, ValueError) as error:
        raise OutputError(f"The MIDI port {wanted!r} could not be opened ({error}). Check the device.") from error


@contextmanager
def _quiet_stderr() -> Iterator[None]:
    """Keep the C libraries of missing MIDI systems from writing lines of their own into the terminal."""
    sys.stderr.flush()
    kept = os.dup(2)
    try:
        with open(os.devnull, "wb") as nowhere:  # noqa: PTH123 - a device, not a path
            os.dup2(nowhere.fileno(), 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
