"""Which channels of a port notes sound on: one channel, or the members of an MPE zone in turn. Pure.

Source: MIDI Polyphonic Expression 1.1 (M1-100-UM): the lower zone has its manager on channel 1 and members from 2 up;
a new note goes to the member with the fewest notes, and of several such to the one that was released longest ago.
"""

from __future__ import annotations

from bridge.send.catalogue import catalogue
from bridge.send.midi_settings import MidiSettings

#: The manager of the lower zone.
MANAGER = catalogue().mpe.manager
#: What receivers take for the manager's bend range, semitones; no bend goes there, but it is said.
MANAGER_BEND_RANGE = catalogue().mpe.manager_bend_range


class Channels:
    """Gives each note its channel. One note sounds at a time, so that the members are taken in turn."""

    def __init__(self, settings: MidiSettings) -> None:
        self.is_zone = settings.mode == "mpe"
        #: Where what belongs to no single note goes.
        self.manager = MANAGER if self.is_zone else settings.channel
        #: Where notes may sound.
        self.members: tuple[int, ...] = (settings.channel,)
        if self.is_zone:
            self.members = tuple(range(MANAGER + 1, MANAGER + 1 + settings.members))
        self._after = dict(zip(self.members, (*self.members[1:], self.members[0]), strict=True))

    @property
    def all(self) -> tuple[int, ...]:
        """Every channel that is used, the manager first."""
        return (self.manager, *self.members) if self.is_zone else self.members

    def after(self, channel: int) -> int:
        """The channel of a note that begins after one on ``channel``: of those that are idle, the one longest so."""
        return self._after[channel]
