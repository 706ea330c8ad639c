"""OSC while the network fails, with a stand-in for the socket."""

from __future__ import annotations

import errno
import os

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.errors import OutputError
from bridge.base.events import Event
from bridge.send import osc_output
from bridge.send.osc_output import RETRY_S, OscOutput
from bridge.send.output import Outputs
from bridge.send.pitch import SentPitch
from bridge.send.settings import OscSettings
from send import osc_reader
from send.made_events import any_events, inflection, note_off, note_on, point

TO = "127.0.0.1:9000"


class MadeSocket:
    """Takes datagrams, or refuses those whose number is in ``failing`` with the error ``why``."""

    def __init__(self, why: int = errno.ENETUNREACH) -> None:
        self.why = why
        self.failing = frozenset[int]()
        self.count = 0
        self.heard: list[str] = []
        self.ids: list[tuple[str, object]] = []

    def sendto(self, data: bytes, _where: tuple[str, int]) -> int:
        """Refuse, or take it."""
        self.count += 1
        if self.count in self.failing:
            raise OSError(self.why, os.strerror(self.why))
        address, _, arguments = osc_reader.read(data)
        self.heard.append(address.removeprefix("/reedwire/"))
        if self.heard[-1] in ("on", "off"):
            self.ids.append((self.heard[-1], arguments[1]))
        return len(data)

    def fail(self, *calls: int) -> None:
        """Fail at these of the calls to come, the next one being number 1."""
        self.count, self.failing = 0, frozenset(calls)

    def close(self) -> None:
        """Nothing to close."""


def over(made: MadeSocket, patch: pytest.MonkeyPatch) -> OscOutput:
    """An open output on that socket, with its hello forgotten."""
    patch.setattr(osc_output, "udp_socket", lambda _address: (made, ("127.0.0.1", 9000)))
    osc = OscOutput(OscSettings(to=TO, interval_ms=0.0), SentPitch(), "1.0")
    osc.open()
    made.heard.clear()
    return osc


# Linux errno(3): what a socket says when nobody listens, when the network is gone, and when its buffer is full.
@pytest.mark.parametrize("why", [errno.ECONNREFUSED, errno.ENETUNREACH, errno.ENETDOWN, errno.EAGAIN])
def test_an_outage_ends_the_note_and_is_followed_by_a_hello(why: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The off is owed; the rest of that note is let pass, and the next one is heard."""
    made = MadeSocket(why)
    osc = over(made, monkeypatch)
    osc.send(note_on(0.0))
    made.heard.clear()
    made.fail(1, 2)
    for time_s in (0.1, 0.2):
        with pytest.raises(OutputError, match=rf"{TO} \({os.strerror(why)}\)\. Playing goes on"):
            osc.send(inflection(time_s))
    osc.send(inflection(0.3))
    assert made.heard == ["off", "hello"]
    osc.send(note_off(0.4))
    osc.send(note_on(0.5, 2))
    assert made.heard == ["off", "hello", "on", "inflect"]
    osc.close()
    assert made.ids == [("on", 1), ("off", 1), ("on", 2), ("off", 2)]


def test_it_is_tried_again_though_no_event_comes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Between blocks, now and then: the off that is owed does not wait for the next note."""
    made = MadeSocket()
    osc = over(made, monkeypatch)
    osc.send(note_on(0.0))
    made.heard.clear()
    made.fail(1, 2)
    with pytest.raises(OutputError):
        osc.panic()
    with pytest.raises(OutputError):
        osc.attend(10.0)
    osc.attend(10.0 + RETRY_S / 2)
    assert made.heard == []
    osc.attend(10.0 + RETRY_S)
    assert made.heard == ["off", "hello"]
    osc.attend(20.0)
    assert made.heard == ["off", "hello"]


@given(any_events, st.frozensets(st.integers(1, 80), max_size=40))
def test_every_note_that_was_heard_to_begin_is_heard_to_end(events: list[Event], failing: frozenset[int]) -> None:
    """Whichever datagrams are refused; the one that is told names the place, once."""
    with pytest.MonkeyPatch.context() as patch:
        made, told = MadeSocket(), list[str]()
        osc = over(made, patch)
        outputs = Outputs([osc], lambda name, error: told.append(f"{name} {error}"))
        outputs.open()
        made.fail(*failing)
        for event in events:
            outputs.send(event)
        made.fail()
        outputs.send(point(100.0))
        outputs.close()
    sounding: set[object] = set()
    for kind, note_id in made.ids:
        if kind == "on":
            sounding.add(note_id)
        else:
            sounding.discard(note_id)
    assert not sounding
    assert len(told) <= 1
    assert not told or f"OSC nothing can be sent to {TO}" in told[0]
