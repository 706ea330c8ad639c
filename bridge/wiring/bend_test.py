"""A semitone played by two notes, then by a bend: whoever listens hears whether the synth bends as far as it should."""

from __future__ import annotations

from collections.abc import Callable

from bridge.base.clock import WallClock
from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchPoint
from bridge.base.units import SILENCE_DB
from bridge.send.kept_port import PortNews
from bridge.send.midi_output import REMIND_S, MessagePort, MidiOutput, never_any
from bridge.send.midi_settings import MidiSettings
from bridge.send.output import Outputs
from bridge.send.pitch import SentPitch

#: The first note and how far it is bent.
NOTE, BEND_CENTS = 60, 100.0
#: How long each pitch is held, in seconds: long enough to be remembered (common practice, no source).
HELD_S = 0.8
_STEP_S = 0.02
_VELOCITY, _BREATH = 0.5, 0.8
#: What is heard one after the other: MIDI note and bend in cents. A note goes on while only its bend moves.
STEPS = ((NOTE, 0.0), (NOTE + 1, 0.0), (NOTE, 0.0), (NOTE, BEND_CENTS), (NOTE, 0.0))


def bend_output(
    settings: MidiSettings,
    port: MessagePort,
    on_failure: Callable[[str, Exception], None],
    news: Callable[[float], PortNews] = never_any,
) -> Outputs:
    """The output of the test, not yet open: the real encoder, raw bends, strength and tuning left out.

    ``news`` says what became of the port.
    """
    pitch = SentPitch()
    return Outputs([MidiOutput(settings, pitch, port, news)], on_failure, pitch)


def run_bend_test(outputs: Outputs, clock: WallClock, stopped: Callable[[], bool]) -> bool:
    """Play the steps into the open ``outputs``, the bend range first; False when it was stopped. No note is left on."""
    # As if the port had been open for long, so that the range is told again: the synth may have been joined only now.
    begun = clock.now() - REMIND_S
    sounding: int | None = None
    note_id = 0
    try:
        outputs.send(_silent(clock.now() - begun))
        for note, cents in STEPS:
            now_s = clock.now() - begun
            if note == sounding:
                outputs.send(_at(note_id, now_s, cents))
            else:
                note_id += 1
                for event in _next_note(note_id, now_s, note):
                    outputs.send(event)
                sounding = note
            until_s = clock.now() + HELD_S
            while clock.now() < until_s:
                if stopped():
                    return False
                outputs.attend(clock.now())
                clock.sleep(_STEP_S)
    finally:
        now_s = clock.now() - begun
        outputs.send(NoteOff(note_id, now_s, now_s))
    return True


def _next_note(note_id: int, now_s: float, note: int) -> list[Event]:
    """The end of the note before, and a note at its plain pitch."""
    begins = NoteOn(note_id, now_s, now_s, note, _VELOCITY, _at(note_id, now_s, 0.0))
    return [NoteOff(note_id - 1, now_s, now_s), begins]


def _at(note_id: int, now_s: float, cents: float) -> Inflection:
    return Inflection(note_id, now_s, now_s, cents, "1", 0.0, 0.0, _BREATH, 0.5)


def _silent(now_s: float) -> PitchPoint:
    """A rest, in which a zone is told anew."""
    return PitchPoint(now_s, now_s, 0.0, 0.0, SILENCE_DB, 0.0)
