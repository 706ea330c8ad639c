"""The bend test of ``reedwire check``: what is asked and said around it."""

from __future__ import annotations

import sys
from typing import Self

import typer

from bridge.base.clock import SystemClock
from bridge.base.errors import OutputError
from bridge.base.printable import printable
from bridge.cli.asked_to_stop import AskedToStop
from bridge.cli.cautions import ADVICE, HEARING
from bridge.cli.keys import Keys
from bridge.cli.to_width import say
from bridge.harp.note_names import note_name
from bridge.send.midi_port import MidiPort
from bridge.send.midi_settings import MidiSettings
from bridge.send.port_watch import PortWatch
from bridge.wiring.bend_test import NOTE, bend_output, run_bend_test
from bridge.wiring.meter_process import key_terminal
from bridge.wiring.steady import stop_on_signals

_OWN = ("auto", "virtual")


class Synth:
    """A synth on a MIDI port, open while the ``with`` lasts: a port of our own can be joined to it meanwhile."""

    def __init__(self, settings: MidiSettings) -> None:
        self.failed = False
        #: Why the test was not played to its end, if so.
        self.why_not = "stopped"
        self._settings = settings
        self._has_port = True
        self._port = MidiPort(settings.port, self._tell, watch=PortWatch(), once=True)
        self._outputs = bend_output(settings, self._port, self._fail, self._port.attend)

    def __enter__(self) -> Self:
        """Open the port. Raises UserError when it cannot be had."""
        self._outputs.open()
        return self

    def __exit__(self, *_error: object) -> None:
        """Silence it and close the port; say so where nobody knows whether it heard."""
        self._outputs.close()
        if self._port.lost:
            self.failed = True
            say("The synth's MIDI port went away, or did not answer at the end: a note may sound on.", err=True)
            say("Once it is back, reedwire panic ends what sounds.", err=True)

    def test(self, *, asked: bool) -> bool:
        """Play the semitone two ways, unless a port of our own has nobody to hear it; whether it was played to its end.

        Ctrl-C and q end it. ``asked`` says that nobody need be asked.
        """
        if not self._has_port:
            return False
        names = note_name(NOTE), note_name(NOTE + 1)
        say(f"Now the synth: {names[0]}, {names[1]}, {names[0]}; then the same rise by a bend, and back.")
        say(f"Turn it down first. {HEARING}\n{ADVICE}", err=True)
        if self._settings.port in _OWN and not asked and sys.stdin.isatty():
            joined = typer.confirm("Join the MIDI port reedwire to the synth. Is it joined?", default=True)
            if not joined:
                return False
        with stop_on_signals() as request, Keys(key_terminal()) as keys:
            stopped = AskedToStop(keys, request)
            done = run_bend_test(self._outputs, SystemClock(), lambda: stopped() or self._port.lost)
        if stopped.by_signal:
            raise KeyboardInterrupt
        if done and not self.failed and not self._port.proves():
            self._fail("MIDI", OutputError("The port does not answer."))
        if done and not self.failed:
            wide = self._settings.sent_bend_range
            say(f"Did both rise alike? If not, set the bend range of the synth to {wide} semitones.")
        return done and not self.failed

    def _fail(self, name: str, error: Exception) -> None:
        self.failed = True
        self.why_not = "failed"
        say(printable(f"{name} failed: {error}"), err=True)

    def _tell(self, text: str) -> None:
        """The port went away, or there is no MIDI system to make one of our own in."""
        if self._port.lost:
            self.failed = True
            self.why_not = "failed"
        else:
            self._has_port = False
            self.why_not = "no MIDI system"
        say(printable(text), err=True)
