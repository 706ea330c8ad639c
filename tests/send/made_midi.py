"""A made-up MIDI system in the place of rtmidi: what both directions of its clients have in common."""

from __future__ import annotations

import sys
import types

import pytest

DEAD, GOOD, NO_VIRTUAL = 1, 2, 3


class MadeClient:
    """One client: system ``DEAD`` has no server, ``NO_VIRTUAL`` makes no ports of our own; ``calls`` is what it did."""

    def __init__(self, api: int, _name: str) -> None:
        if api == DEAD:
            raise OSError("no server")
        self.api = api
        self.calls: list[object] = []

    def open_virtual_port(self, name: str) -> None:
        """A port of our own."""
        if self.api == NO_VIRTUAL:
            raise NotImplementedError
        self.calls.append(("virtual", name))

    def close_port(self) -> None:
        """Close."""
        self.calls.append("close")

    def delete(self) -> None:
        """Leave the system."""
        self.calls.append("delete")


def made_systems(monkeypatch: pytest.MonkeyPatch, **clients: type[MadeClient]) -> list[int]:
    """Put the made-up library in place with these ``clients`` (``MidiIn``, ``MidiOut``); the systems it finds."""
    found = [DEAD, GOOD]
    module = types.SimpleNamespace(
        get_compiled_api=lambda: found,
        get_api_display_name=lambda api: f"system {api}",
        API_RTMIDI_DUMMY=9,
        API_UNIX_JACK=8,
        **clients,
    )
    monkeypatch.setitem(sys.modules, "rtmidi", module)
    return found
