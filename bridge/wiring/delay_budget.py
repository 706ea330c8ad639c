"""Where the delay from reed to synth goes, line by line: what was measured, what is computed, what is assumed."""

from __future__ import annotations

from dataclasses import dataclass, replace

from bridge.base.events import Inflection, NoteOn
from bridge.base.units import hz_to_midi
from bridge.follow.making import window_delay_s
from bridge.follow.played import FollowedNote, Played
from bridge.harp.harp import Harp
from bridge.send.midi_encoder import MidiEncoder
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from bridge.wiring.settings import Settings

#: A byte on a five-pin cable: 31,250 baud, ten bits each (MIDI 1.0 Detailed Specification 4.2.1).
BYTE_S = 10 / 31250
#: Assumed of USB: a message waits for the next frame, of which there is one a millisecond (USB 2.0, full speed).
USB_S = 0.001


@dataclass(frozen=True, slots=True)
class DelayBudget:
    """Seconds each: a ``block`` of the sound card, ``worker`` from its call to what is sent (99 of 100; 0 = unknown).

    ``notes`` say how long the pitch is behind, ``measured`` while somebody played or else by the settings alone;
    ``begins_s`` how long after its attack a note begins (0 = unknown), and ``held`` whether they are held back to one
    delay. ``midi_bytes`` is what the beginning of a note takes at most when another one ends with it, 0 where there is
    no MIDI.
    """

    block_s: float
    worker_s: float
    notes: tuple[FollowedNote, ...]
    measured: bool
    begins_s: float
    midi_bytes: int
    held: bool = False

    @property
    def midi_s(self) -> float:
        """What is assumed for MIDI: USB, or a port inside the machine, which is no slower."""
        return USB_S if self.midi_bytes else 0.0

    @property
    def cable_s(self) -> float:
        """The same on a five-pin cable."""
        return self.midi_bytes * BYTE_S

    def sum_s(self, follower_s: float) -> float:
        """All lines together for what the follower takes ``follower_s`` for."""
        return self.block_s + follower_s + self.worker_s + self.midi_s


def delay_budget(
    settings: Settings, harp: Harp, rate: int, *, block_s: float, worker_s: float, played: Played | None
) -> DelayBudget:
    """The budget with what was heard of a player; without one, that of the harp's lowest and its middle reed."""
    heard = played is not None and bool(played.notes)
    if played is not None and heard:
        notes, begins_s = played.notes, played.begins_s
    else:
        by_pitch = sorted(reed.hz for reed in harp.reeds)
        known = (by_pitch[0], by_pitch[len(by_pitch) // 2])
        notes = tuple(FollowedNote(round(hz_to_midi(hz)), window_delay_s(settings.follow, rate, hz)) for hz in known)
        begins_s = 0.0
    if settings.quantise.steady_delay:
        steady_s = settings.quantise.steady_ms / 1000.0
        notes = tuple(replace(note, delay_s=max(note.delay_s, steady_s)) for note in notes)
        begins_s = max(begins_s, steady_s)
    midi = settings.send.midi
    size = note_bytes(midi) if midi.port != "none" else 0
    return DelayBudget(
        block_s,
        worker_s,
        notes,
        measured=heard,
        begins_s=begins_s,
        midi_bytes=size,
        held=settings.quantise.steady_delay,
    )


def note_bytes(settings: MidiSettings) -> int:
    """Bytes of a note that begins as another one ends, every value of it a new one."""
    encoder = MidiEncoder(settings, SentPitch())
    low = Inflection(1, 0.0, 0.0, -50.0, "3", 0.0, -1.0, 0.1, 0.1)
    encoder.encode(NoteOn(1, 0.0, 0.0, 60, 0.5, low))
    high = replace(low, note_id=2, bend_cents=50.0, blueness=1.0, lean=1.0, breath=0.9, bright=0.9)
    begun = encoder.encode(NoteOn(2, 0.0, 0.0, 64, 0.5, high))
    return sum(len(data) for item in begun for data in item.messages)
