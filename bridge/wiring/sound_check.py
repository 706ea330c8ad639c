"""A sound check: the room while nobody plays, then a player, through the parts that ``play`` uses."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from bridge.base.clock import WallClock
from bridge.base.events import AudioBlock
from bridge.capture.source import Source
from bridge.follow.hum import Hum, HumMeter
from bridge.follow.loudspeaker import LoudspeakerReturn
from bridge.follow.played import Played, PlayedMeter
from bridge.follow.room_noise import LearnedRoom
from bridge.send.midi_output import MidiOutput
from bridge.send.output import Outputs
from bridge.send.pitch import sent_pitch
from bridge.wiring.card_timing import CardTiming
from bridge.wiring.chain import Chain
from bridge.wiring.checking import floor_hz, heard_for, learn_room, with_gate
from bridge.wiring.delay_budget import DelayBudget, delay_budget
from bridge.wiring.harps import harp_in_hand
from bridge.wiring.settings import Settings
from bridge.wiring.steady import steady_engine

Stopped = Callable[[], bool]


@dataclass(slots=True)
class Checked:
    """What a sound check found out; None of what it did not come to.

    ``input`` names the sound input, ``rate`` its samples a second. ``lost`` counts samples, and times the sound system
    dropped some, since the card had started; ``notices`` are what the engine had to say. ``loudspeaker`` is what came
    back and the level (dBFS) it was played at; ``bend`` whether the bend test was played to its end.
    """

    settings: Settings
    input: str
    rate: int
    timing: CardTiming
    room: LearnedRoom | None = None
    hum: Hum | None = None
    played: Played | None = None
    lost: int = 0
    notices: tuple[str, ...] = ()
    loudspeaker: tuple[LoudspeakerReturn, float] | None = None
    loudspeaker_played: bool = False
    bend: bool = False

    @property
    def budget(self) -> DelayBudget:
        """Where the delay goes."""
        return delay_budget(
            self.settings,
            harp_in_hand(self.settings.harp),
            self.rate,
            block_s=self.timing.handed_s,
            worker_s=self.timing.answer.sent.quantile(0.99),
            played=self.played,
        )


class SoundCheck:
    """Listens to the open ``source`` and keeps in ``checked`` what it finds out; ``stopped`` asks it to end."""

    def __init__(self, settings: Settings, source: Source, clock: WallClock, stopped: Stopped) -> None:
        self._settings = settings
        self._source = source
        self._clock = clock
        self._stopped = stopped
        timing = CardTiming(settings.capture.block / source.rate)
        self.checked = Checked(settings, source.name, source.rate, timing)
        #: What was lost while the card started, which is of no account.
        self._lost_before: int | None = None

    def hear_room(self, seconds: float) -> LearnedRoom:
        """Listen for so long while nobody plays. Raises UserError when nothing comes."""
        hum = HumMeter(self._source.rate)

        def also(block: AudioBlock) -> None:
            if self._lost_before is None:
                self._lost_before = self._source.lost + self._source.dropouts
            self.checked.timing.called(self._source.calls_s)
            hum.hear(block)

        room = learn_room(self._settings, self._source, seconds, self._clock, also=also, stopped=self._stopped)
        self.checked.hum = hum.hum()
        self.checked.room = room
        self._count_lost()
        return room

    def hear_playing(self, seconds: float, room: LearnedRoom) -> Played:
        """Listen for so long while somebody plays, with the gate of the ``room``; less when it is stopped.

        Raises UserError when nothing comes.
        """
        source, timing, clock = self._source, self.checked.timing, self._clock
        settings = with_gate(self._settings, room)
        meter = PlayedMeter(source.rate, floor_hz(settings), room)
        chain = Chain(settings, source.rate)
        outputs = _encoded(settings, chain)
        chain.add_player(outputs.send)
        chain.add_watcher(meter.know)
        notices: list[str] = []
        with steady_engine(notices.append, live=source.live):
            self._catch_up()
            for block in heard_for(source, seconds, clock, self._stopped):
                began_s = clock.now()
                chain.feed(block)
                outputs.attend(clock.now())
                timing.worked(source.calls_s, began_s, clock.now(), len(block.samples) / block.rate)
                timing.called(source.calls_s)
                # Not part of what `play` does, so not of the work that is measured.
                meter.hear(block)
        chain.finish()
        outputs.close()
        self.checked.notices = tuple(notices)
        self.checked.played = meter.played()
        self._count_lost()
        return self.checked.played

    def _catch_up(self) -> None:
        """Let go of the sound that came while nobody read: it would seem to be answered late."""
        behind = True
        while behind:
            block = self._source.read(0.0)
            self.checked.timing.called(self._source.calls_s)
            behind = block is not None and len(block.samples) > self._settings.capture.block

    def _count_lost(self) -> None:
        self.checked.lost = self._source.lost + self._source.dropouts - (self._lost_before or 0)


class _Nowhere:
    """A MIDI port that nobody hears: at a sound check no synth sounds unless it is asked for."""

    def open(self) -> None:
        """Nothing to open."""

    def send(self, data: bytes) -> None:
        """Let it go."""

    def close(self) -> None:
        """Nothing to close."""


def _encoded(settings: Settings, chain: Chain) -> Outputs:
    """What turns the events into MIDI, as `play` does, for nobody to hear; open."""
    pitch = sent_pitch(settings.send, chain.harp.sharp_cents)
    outputs = Outputs([MidiOutput(settings.send.midi, pitch, _Nowhere())], _cannot_fail, pitch)
    outputs.open()
    return outputs


def _cannot_fail(name: str, error: Exception) -> None:
    raise RuntimeError(f"{name} failed without a port") from error
