"""Ending everything that may sound on a MIDI port, whoever began it."""

from __future__ import annotations

from bridge.base.clock import WallClock
from bridge.base.errors import OutputError
from bridge.send.midi_messages import ALL_NOTES_OFF, ALL_SOUND_OFF, CENTRE, bend, control, note_off
from bridge.send.midi_port import MidiPort

#: What is said of a port that was not there to the end.
LOST = "it went away, or does not answer. What sounds there may sound on."
_CHANNELS = range(1, 17)
#: A channel's 128 Note Offs are 384 bytes, 123 ms on a cable of 31,250 baud (MIDI 1.0: 320 us a byte).
_PAUSE_S = 0.13
#: Before every fourth channel the port must prove that it is there: what nobody fetches would fill it up.
_PROVEN = 4


def silence(port: MidiPort, clock: WallClock) -> int:
    """Tell every channel of the open ``port`` to be quiet; gives the number of messages sent.

    First All Notes Off, All Sound Off and the bend to its centre on every channel, which most receivers obey at once;
    then, since a receiver may ignore those (MIDI 1.0), a Note Off for every note, at the speed of a MIDI cable. Raises
    OutputError when the port is no longer there.
    """
    sent = 0
    for channel in _CHANNELS:
        for data in (control(channel, ALL_NOTES_OFF, 0), control(channel, ALL_SOUND_OFF, 0), bend(channel, CENTRE)):
            port.send(data)
            sent += 1
    for channel in _CHANNELS:
        if channel % _PROVEN == 0 and not port.proves():
            raise OutputError(LOST)
        for note in range(128):
            port.send(note_off(channel, note))
            sent += 1
        clock.sleep(_PAUSE_S)
    return sent
