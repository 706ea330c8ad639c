"""The MIDI systems of this machine: ALSA, CoreMIDI or JACK, whichever works. The only file that knows rtmidi."""

from __future__ import annotations

import ctypes
import os
import re
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Literal

from bridge.base.errors import OutputError

CLIENT_NAME = "reedwire"
#: A port that a bridge plays to, this one or another; JACK numbers the second of a name.
_OURS = re.compile(rf"{CLIENT_NAME}(-\d+)?:")
#: JACK fetches messages once a period, up to 0.1 s, and a new connection counts from the next one: what is sent into a
#: port just opened would be lost, and so would the last Note Offs of one closed at once.
JACK_SETTLES_S = 0.25

#: Of two ports opened at once by threads, the second must not take the silence of the first for what was before.
_ONE_IS_QUIET = threading.Lock()

#: ``out``: ports that take MIDI; ``in``: ports that give it.
Way = Literal["out", "in"]


@dataclass(frozen=True, slots=True)
class MidiPortInfo:
    """A port: the system it belongs to (``ALSA``, ``JACK``, ...) and its name there."""

    system: str
    name: str


@dataclass(frozen=True, slots=True)
class JoinedPort:
    """A client that is open: its system, and the full name of the port it is joined to; None for one of our own."""

    client: Any
    system: str
    full_name: str | None


def list_midi_ports(way: Way = "out") -> list[MidiPortInfo]:
    """Every port that takes MIDI, or gives it to a pedal, of every MIDI system that works here; may be empty."""
    found = []
    for system, client in working(CLIENT_NAME, way):
        found += [MidiPortInfo(system, name) for name in not_ours(client.get_ports(), way)]
        client.delete()
    return found


def working(name: str, way: Way, system: str | None = None) -> Iterator[tuple[str, Any]]:
    """A client of each MIDI system that answers, in the order rtmidi ranks them; the taker deletes it.

    With ``system`` of that one only.
    """
    import rtmidi  # loads the C libraries of the MIDI systems, so only when used

    for api in rtmidi.get_compiled_api():
        if api == rtmidi.API_RTMIDI_DUMMY or system not in (None, rtmidi.get_api_display_name(api)):
            continue
        try:
            with _quiet_stderr():
                client = rtmidi.MidiOut(api, name) if way == "out" else rtmidi.MidiIn(api, name)
        except (OSError, RuntimeError):
            continue
        yield rtmidi.get_api_display_name(api), client


def virtual_port(name: str, way: Way, system: str | None = None) -> JoinedPort | None:
    """A port of our own called ``name``, in that ``system`` if it is given; None where no system offers one."""
    for found, client in working(name, way, system):
        try:
            client.open_virtual_port(name)
        except (OSError, RuntimeError, NotImplementedError):
            client.delete()
            continue
        return JoinedPort(client, found, None)
    return None


def named_port(wanted: str, name: str, way: Way, system: str | None = None) -> JoinedPort:
    """A client joined to the port that ``wanted`` fits, in that ``system`` if it is given; our end is called ``name``.

    Raises OutputError that lists the ports there are when it fits none or several, or cannot be opened.
    """
    seen: list[str] = []
    for found, client in working(name, way, system):
        names = not_ours(client.get_ports(), way)
        seen += names
        fitting = matching(wanted, names)
        if len(fitting) == 1:
            with _told_plainly(wanted):
                join(client, fitting[0], name)
            return JoinedPort(client, found, fitting[0])
        client.delete()
        if fitting:
            raise OutputError(f"Several MIDI ports fit {wanted!r}: {_listing(fitting)}. Give one in full.")
    there = _listing(seen)
    raise OutputError(
        f"No MIDI port fits {wanted!r}. There is: {there}. Or give virtual for a port of our own, or none."
    )


def let_go(port: JoinedPort) -> None:
    """Close the port and leave its system, which must be alive."""
    port.client.close_port()
    port.client.delete()


def abandon(port: JoinedPort) -> None:
    """Leave a port as it is until the program ends: closing a client of a dead JACK server never returns.

    Python must not close it either when nobody holds it any more, so it counts as held for ever.
    """
    ctypes.pythonapi.Py_IncRef(ctypes.py_object(port.client))


def join(client: Any, full_name: str, name: str) -> None:  # noqa: ANN401 -- rtmidi has no type information
    """Join ``client`` to the port of that full name; raises what rtmidi raises, or ValueError when it is gone."""
    # Numbers shift when a device is plugged in or out, so the name is looked up again at the last moment.
    client.open_port(client.get_ports().index(full_name), name)


def matching(wanted: str, names: list[str]) -> list[str]:
    """The names a user may mean: the exact one, else those containing the words, small or capital."""
    exact = [name for name in names if name == wanted] or [name for name in names if name.lower() == wanted.lower()]
    return exact or [name for name in names if wanted.lower() in name.lower()]


def not_ours(names: list[str], way: Way) -> list[str]:
    """The names of what can be joined: what we play must not come back in as a pedal's word."""
    return names if way == "out" else [name for name in names if not _OURS.match(name)]


def let_settle(client: Any) -> None:  # noqa: ANN401 -- rtmidi has no type information
    """Wait until JACK has taken up a new connection, or fetched the last messages; other systems need no time."""
    import rtmidi

    if client.get_current_api() == rtmidi.API_UNIX_JACK:
        time.sleep(JACK_SETTLES_S)


def _listing(names: list[str]) -> str:
    return ", ".join(repr(name) for name in names) or "no port at all"


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
    with _ONE_IS_QUIET:
        sys.stderr.flush()
        kept = os.dup(2)
        try:
            with open(os.devnull, "wb") as nowhere:  # noqa: PTH123 - a device, not a path
                os.dup2(nowhere.fileno(), 2)
            yield
        finally:
            os.dup2(kept, 2)
            os.close(kept)
