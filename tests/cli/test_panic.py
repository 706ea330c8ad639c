"""``reedwire panic`` without any MIDI system: what it says, and that no port's trouble is another's."""

from __future__ import annotations

import pytest

from bridge.send.midi_system import MidiPortInfo
from cli.commands import run_here

_RATE = 48000


def test_panic_without_any_port_says_so(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nothing can be silenced the command says so instead of claiming success."""
    monkeypatch.setattr("bridge.cli.panic.list_midi_ports", list)
    status, out, err = run_here(capsys, monkeypatch, "panic")
    assert (status, out) == (2, "")
    assert "no MIDI port" in err
    status, _, err = run_here(capsys, monkeypatch, "panic", "--midi", "no such port anywhere")
    assert status == 2
    assert "no such port anywhere" in err


def test_a_port_that_is_not_there_is_told_with_those_that_are(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """No port of our own is offered, which nobody could hear; status 2."""
    ports = [MidiPortInfo("JACK", "synth:in"), MidiPortInfo("ALSA", "organ 1")]
    monkeypatch.setattr("bridge.cli.panic.list_midi_ports", lambda: ports)
    status, out, err = run_here(capsys, monkeypatch, "panic", "--midi", "nosuch")
    assert (status, out) == (2, "")
    assert err == (
        "reedwire: No MIDI port fits 'nosuch', and nothing was sent. There is: 'synth:in', 'organ 1'. "
        "Give part of one of these names, or leave --midi out for all.\n"
    )


class _Port:
    """A port; the one called bad fails in every way."""

    lost, answers = False, True

    def __init__(self, name: str, _notice: object, **_: object) -> None:
        self._bad = name == "bad"

    def open(self) -> None:
        """Open it."""

    def send(self, _data: bytes) -> None:
        """Send, or fail as rtmidi may."""
        if self._bad:
            raise RuntimeError("the cable was pulled")

    def proves(self) -> bool:
        """Be there."""
        return True

    def close(self) -> None:
        """Close, or fail."""
        if self._bad:
            raise RuntimeError("it is gone")


class _StillClock:
    """A clock that waits for nothing."""

    def sleep(self, _seconds: float) -> None:
        """Do not wait."""


def test_panic_goes_on_after_a_port_that_fails(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever happens at one port, even at its closing, the others are silenced; status 1."""
    ports = [MidiPortInfo("JACK", "bad"), MidiPortInfo("JACK", "good")]
    monkeypatch.setattr("bridge.cli.panic.list_midi_ports", lambda: ports)
    monkeypatch.setattr("bridge.cli.panic.MidiPort", _Port)
    monkeypatch.setattr("bridge.cli.panic.SystemClock", _StillClock)
    status, out, err = run_here(capsys, monkeypatch, "panic")
    assert (status, out) == (1, "good: quiet (2096 messages).\n")
    assert err == "reedwire: bad: the cable was pulled\n"
