"""A synth for tests: follows MIDI bytes as the standard says a receiver does.

Source: MIDI 1.0 Detailed Specification 4.2.1 (Note Off, Note On with velocity 0, pitch bend, RPN 0, 120, 123).
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass
class Synth:
    """What sounds on each channel (0..15), bends and controllers; ``begun`` lists note and cents of each Note On."""

    sounding: dict[tuple[int, int], int] = field(default_factory=dict)
    range_cents: dict[int, float] = field(default_factory=dict)
    bend: dict[int, int] = field(default_factory=dict)
    controllers: dict[tuple[int, int], int] = field(default_factory=dict)
    begun: list[tuple[int, float]] = field(default_factory=list)

    def hear(self, data: bytes) -> None:
        """Take one message."""
        status, first, second = data
        assert status >= 0x80
        assert first < 0x80
        assert second < 0x80
        channel = status & 0x0F
        match status & 0xF0:
            case 0x80:
                self._end(channel, first)
            case 0x90 if second == 0:
                self._end(channel, first)
            case 0x90:
                assert (channel, first) not in self.sounding
                self.sounding[channel, first] = second
                self.begun.append((first, self.cents(channel)))
            case 0xB0:
                self._control(channel, first, second)
            case 0xE0:
                self.bend[channel] = second * 128 + first
            case _:
                raise AssertionError(data.hex())

    def cents(self, channel: int = 0) -> float:
        """How far the channel is bent."""
        return (self.bend.get(channel, 8192) - 8192) / 8192 * self.range_cents.get(channel, 200.0)

    def _end(self, channel: int, note: int) -> None:
        self.sounding.pop((channel, note), None)

    def _control(self, channel: int, number: int, value: int) -> None:
        self.controllers[channel, number] = value
        if number in (120, 123):
            for key in [key for key in self.sounding if key[0] == channel]:
                del self.sounding[key]
        elif number == 121:
            self.bend[channel] = 8192
        elif number == 6 and self.controllers.get((channel, 101)) == 0 and self.controllers.get((channel, 100)) == 0:
            self.range_cents[channel] = 100.0 * value
