"""Panic tells every channel to be quiet."""

from __future__ import annotations

import mido
import pytest

from bridge.base.clock import ManualClock
from bridge.base.errors import OutputError
from bridge.send.midi_port import MidiPort
from bridge.wiring.panic import silence


class _Listening(MidiPort):
    """A port that keeps what is sent instead of sending it."""

    def __init__(self) -> None:
        super().__init__("none", lambda _: None)
        self.sent: list[bytes] = []

    def send(self, data: bytes) -> None:
        """Keep it."""
        self.sent.append(data)


def test_every_note_of_every_channel_is_ended() -> None:
    """All Notes Off, All Sound Off and a centred bend come first on all channels, then 128 Note Offs on each.

    Read back by mido; controller numbers from MIDI 1.0 (4.2.1), channel mode messages: 123 and 120.
    """
    port = _Listening()
    assert silence(port, ManualClock()) == len(port.sent)
    messages = [mido.Message.from_bytes(data) for data in port.sent]
    at_once, one_by_one = messages[:48], messages[48:]
    for channel in range(16):
        mine = [message for message in at_once if message.channel == channel]
        assert [(message.type, getattr(message, "control", None)) for message in mine] == [
            ("control_change", 123),
            ("control_change", 120),
            ("pitchwheel", None),
        ]
        assert mine[-1].pitch == 0
    assert {(message.type, message.channel, message.note) for message in one_by_one} == {
        ("note_off", channel, note) for channel in range(16) for note in range(128)
    }


def test_it_does_not_flood_the_port() -> None:
    """No more bytes go out than a MIDI cable carries: 3,125 a second (MIDI 1.0: 31,250 baud, ten bits a byte)."""
    clock = ManualClock()
    sizes: list[tuple[float, int]] = []

    class Timed(_Listening):
        def send(self, data: bytes) -> None:
            sizes.append((clock.now(), len(data)))

    silence(Timed(), clock)
    one_by_one = sizes[48:]
    total = sum(size for _, size in one_by_one)
    assert total / clock.now() <= 3125


def test_a_port_that_goes_away_meanwhile_is_not_called_quiet() -> None:
    """No more is sent into it than JACK's ring holds (16 KiB, and four bytes more a message): a full one never ends."""

    class Gone(_Listening):
        def proves(self) -> bool:
            return False

    port = Gone()
    with pytest.raises(OutputError, match="may sound on"):
        silence(port, ManualClock())
    assert sum(len(data) + 4 for data in port.sent) < 16384
