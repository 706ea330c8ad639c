"""Plays short notes into a MIDI port for ever, as the engine would, in a process of its own.

``python -m send.jack_mouth PORT``: prints each notice, and ``late`` with the longest time from one round of sending
and attending to the next whenever that grows, in milliseconds. Ends with standard input.
"""

from __future__ import annotations

import sys
import time

from bridge.send.midi_output import MidiOutput
from bridge.send.midi_port import MidiPort
from bridge.send.midi_settings import MidiSettings
from bridge.send.output import Outputs
from bridge.send.pitch import SentPitch
from bridge.send.port_watch import PortWatch
from send.jack_ear import end_of_input, say
from send.made_events import inflection, note_off, note_on

_STEP_S = 0.01
#: A note lasts so many steps, with as many of rest after it.
_NOTE_STEPS = 20


def main() -> None:
    """Play until standard input ends."""
    port = MidiPort(sys.argv[1], say, watch=PortWatch())
    midi = MidiOutput(MidiSettings(port=sys.argv[1]), SentPitch(), port, port.attend)
    outputs = Outputs([midi], lambda name, error: say(f"{name} failed: {error!r}"))
    ended = end_of_input()
    outputs.open()
    say("ready")
    step, longest_s = 0, 0.0
    before_s = time.monotonic()
    while not ended.wait(_STEP_S):
        begun_s = time.monotonic()
        if (took_s := begun_s - before_s) > longest_s + 0.001:
            longest_s = took_s
            say(f"late {1000.0 * took_s:.1f}")
        before_s = begun_s
        number, within = divmod(step, 2 * _NOTE_STEPS)
        now_s = step * _STEP_S
        if within == 0:
            outputs.send(note_on(now_s, number, bend_cents=-50.0))
        elif within < _NOTE_STEPS:
            outputs.send(inflection(now_s, number, bend_cents=-50.0 - within))
        elif within == _NOTE_STEPS:
            outputs.send(note_off(now_s, number))
        outputs.attend(begun_s)
        step += 1
    outputs.close()
    say("closed")


if __name__ == "__main__":
    main()
