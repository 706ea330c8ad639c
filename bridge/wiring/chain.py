"""The straight line from sound to events: follow, then quantise, then whoever wants to know."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

import numpy as np

from bridge.base.events import AudioBlock, Event, NoteOff, NoteOn, PitchFrame, PitchPoint
from bridge.base.units import cents_between
from bridge.follow.follower import Follower
from bridge.follow.making import make_follower
from bridge.harp.harp import Harp
from bridge.quantise.bleed import Pause
from bridge.quantise.hearing import Hearing
from bridge.quantise.left_out import LeftOut
from bridge.quantise.quantiser import Quantiser
from bridge.quantise.scales import find_scale
from bridge.quantise.steady import SteadyDelay
from bridge.send.pitch import sent_pitch
from bridge.wiring.harps import HeldHarp, harp_set
from bridge.wiring.on_harp import bend_room_cents, quantise_on
from bridge.wiring.settings import Settings

#: What someone does with an event; what it gives back does not matter here.
Hear = Callable[[Event], object]

#: A note outlasts lost samples this long, in seconds: a few blocks of a sound card that was late.
_SHORT_GAP_S = 0.02
#: The floor lies this far under the harp's lowest reed, as a ratio: a semitone, since the lowest reed bends too.
_SEMITONE = 2.0 ** (1.0 / 12.0)
#: So long without any pitch, in seconds, and no note sounds or begins.
_QUIET_S = 0.15
#: A recording that drifts is followed in steps of this many cents, finer than anybody hears.
_DRIFT_STEP_CENTS = 2.0


class Chain:
    """Follower and quantiser for the harp in hand, and those who hear what they say.

    ``players`` (outputs) hear everything while the bridge is armed and nothing while it is not; ``watchers`` (meter,
    take) also hear the pitch while it is disarmed. A change of harp or of arming ends the sounding note first; a harp
    that is only tuned anew ends none: that waits for its end. As long as the harp is not known (``sought``) nothing is
    sent: only ``learners`` hear what is played then.
    """

    def __init__(self, settings: Settings, rate: int, *, look_ahead: bool = False) -> None:
        self._settings = settings
        self._rate = rate
        self._look_ahead = look_ahead
        self._left_out: list[LeftOut] = []
        self._pause = Pause()
        self._players: list[Hear] = []
        self._watchers: list[Hear] = []
        self._learners: list[Hear] = []
        self._harp_hearers: list[Callable[[HeldHarp], object]] = []
        self._now_s = 0.0
        self._next: int | None = None
        steady = settings.quantise.steady_delay
        self._delay_s = settings.quantise.steady_ms / 1000.0 if steady else 0.0
        self._steady = SteadyDelay(self._delay_s) if steady else None
        self._drift_s = [at_s for at_s, _ in settings.harp.drift]
        self._drift_hz = [a4_hz for _, a4_hz in settings.harp.drift]
        #: The harp in hand as it is tuned from the next note on; None where nothing changes.
        self._tuned: HeldHarp | None = None
        self._sounds = False
        self._sounded_s = -math.inf
        self._frame_s = self._frame_ready_s = 0.0
        self.armed = True
        self.notes = 0
        self.harps = harp_set(settings.harp)
        self.held = self.harps.harps[0]
        self._pitch = sent_pitch(settings.send, self.harp.sharp_cents)
        self._follower, self._hearing = self._new_follower(), self._new_hearing()
        self._quantiser = Quantiser(
            find_scale(settings.quantise.scale, settings.quantise.scales),
            root_hz=self.harp.root_hz,
            root_midi=self.harp.root_midi,
            settings=quantise_on(settings, self.held),
            bend_range_cents=bend_room_cents(settings, self.harp),
        )

    @property
    def now_s(self) -> float:
        """Stream time heard so far, in seconds."""
        return self._now_s

    @property
    def harp(self) -> Harp:
        """The harp in hand."""
        return self.held.harp

    @property
    def place(self) -> int:
        """Place of the harp in hand in the set, counted from 1; 0 for one outside it."""
        return self.harps.place(self.held)

    @property
    def straight_cents(self) -> float:
        """Where the straight third lies now, cents above the root."""
        return quantise_on(self._settings, self.held).third.straight_cents

    @property
    def howling(self) -> bool:
        """Whether a loudspeaker howls now; its pitch is no note."""
        return self._hearing.howling

    @property
    def left_out(self) -> tuple[LeftOut, ...]:
        """The spans of a recording so far that sounded but were no playing, in order; none when played live."""
        return (*self._left_out, *self._hearing.left_out)

    def add_player(self, hear: Hear) -> None:
        """From now on ``hear`` is told what sounds while armed."""
        self._players.append(hear)

    def add_watcher(self, hear: Hear) -> None:
        """From now on ``hear`` is told what sounds while armed, and the pitch always."""
        self._watchers.append(hear)

    def add_learner(self, hear: Hear) -> None:
        """From now on ``hear`` is told what is played while armed, also before the harp is known."""
        self._learners.append(hear)

    def add_harp_hearer(self, hear: Callable[[HeldHarp], object]) -> None:
        """From now on ``hear`` is told of every harp that is taken up or tuned anew, before its first note."""
        self._harp_hearers.append(hear)

    @property
    def quiet(self) -> bool:
        """Whether nothing sounds, is about to, or has sounded for a moment: the harp may be tuned anew."""
        return self._is_quiet(self._now_s)

    def feed(self, block: AudioBlock) -> None:
        """Hear a block of the rate the chain was made for."""
        if self._next is not None and not 0 <= block.start - self._next <= _SHORT_GAP_S * self._rate:
            # Nobody knows what was played meanwhile, so nothing may go on sounding over it.
            self.finish()
            self._hear_afresh()
        self._next = block.start + len(block.samples)
        for heard in self._follower.follow(block):
            for frame in self._hearing.step(heard):
                self._quantise(frame)
            if self._steady is not None:
                # Also while what was heard waits to prove itself: what is due does not wait with it.
                self._play(self._steady.due(heard.ready_s))
        self._now_s = max(self._now_s, (block.start + len(block.samples)) / block.rate)

    def arm(self, *, armed: bool) -> None:
        """Begin or stop sending; a note held while arming begins anew, so that it is sent."""
        if armed == self.armed:
            return
        self.finish()
        self.armed = armed

    def change_harp(self, wanted: str) -> bool:
        """Go on with the harp that ``wanted`` asks for, as :meth:`HarpSet.find` says; False when it is in hand already.

        Raises UserError for one that does not exist.
        """
        held = self.harps.find(wanted, self.held)
        if held is self.held:
            return False
        # One that was only sought is never played again.
        self._take_up(self._in_place(held) if self.held.sought else held)
        return True

    def take_found(self, harp: Harp) -> None:
        """Go on with ``harp``, which was found from what is played, in place of the one in hand."""
        self._take_up(self._in_place(HeldHarp(harp)))

    def retune(self, a4_hz: float) -> None:
        """Go on with the harp in hand at another A4; it must be ``quiet``. A harp from a file stays as it is."""
        if self.held.file is not None:
            return
        # Not up to now: of a recording what comes now may describe what was a moment ago.
        self._quantiser.finish(self._frame_s, self._frame_ready_s)
        self._tune(self.held.at_a4(a4_hz))

    def _in_place(self, held: HeldHarp) -> HeldHarp:
        """``held``, with the place in the set of the one in hand."""
        self.harps = self.harps.with_other(self.held, held)
        return held

    def _take_up(self, held: HeldHarp) -> None:
        self.finish()
        self._tuned = None
        self.held = held
        self._hear_afresh()
        self._quantiser.take_harp(
            root_hz=self.harp.root_hz,
            root_midi=self.harp.root_midi,
            settings=quantise_on(self._settings, self.held),
            bend_range_cents=bend_room_cents(self._settings, self.harp),
        )
        self._tell_of_harp()

    def _tune(self, held: HeldHarp) -> None:
        """Go on with the harp in hand as ``held`` is tuned, from the next note on."""
        self._tuned = held
        room = bend_room_cents(self._settings, held.harp)
        if self._quantiser.tune(root_hz=held.harp.root_hz, bend_range_cents=room):
            self._tune_on(held)

    def _tune_on(self, held: HeldHarp) -> None:
        """That next note comes, and the quantiser knows."""
        self._tuned = None
        self.held = self._in_place(held)
        self._tell_of_harp()

    def _tell_of_harp(self) -> None:
        self._pitch.tune_to(self.harp.sharp_cents)
        for hear in self._harp_hearers:
            hear(self.held)

    def finish(self) -> None:
        """End what sounds."""
        for frame in self._hearing.finish():
            self._quantise(frame)
        for event in self._quantiser.finish(self._now_s, self._now_s):
            self._tell(event)
        if self._steady is not None:
            self._play(self._steady.rest(self._now_s))

    def pause(self, *, sounding: bool, tail_s: float = 0.0) -> None:
        """Listen to nothing while the program itself sounds a model, and for ``tail_s`` seconds after it."""
        if sounding:
            self._pause.begin(self._now_s)
        else:
            self._pause.end(self._now_s, tail_s)

    def _is_quiet(self, now_s: float) -> bool:
        # What is held back to one delay still sounds on the wire.
        return not self._sounds and now_s - self._sounded_s >= _QUIET_S + self._delay_s

    def _quantise(self, frame: PitchFrame) -> None:
        self._frame_s, self._frame_ready_s = frame.time_s, frame.ready_s
        if frame.hz > 0.0 or frame.attack:
            self._sounded_s = frame.time_s
        # What is held back to one delay still sounds on the wire when its note has ended.
        if self._drift_s and (self._steady is None or self._is_quiet(frame.time_s)):
            self._drift_to(frame.time_s)
        for event in self._quantiser.step(frame):
            self._tell(event)

    def _drift_to(self, time_s: float) -> None:
        """Tune the harp to where a recording that drifts has come to, if that can be heard."""
        if self.held.file is not None or self.held.sought:
            return
        a4_hz = float(np.interp(time_s, self._drift_s, self._drift_hz))
        held = self._tuned or self.held
        if abs(cents_between(a4_hz, held.harp.a4_hz)) >= _DRIFT_STEP_CENTS:
            held = held.at_a4(a4_hz)
        if held is not self.held:
            self._tune(held)

    def _hear_afresh(self) -> None:
        """Forget the sound so far; what was left out of it stays known."""
        self._left_out += self._hearing.left_out
        self._follower, self._hearing = self._new_follower(), self._new_hearing()

    def _new_hearing(self) -> Hearing:
        own = self._settings.follow.follower == "own"
        return Hearing(
            self._settings.quantise,
            tells_reeds=own,
            look_ahead=self._look_ahead,
            pause=self._pause,
            sent_cents=self._pitch.cents,
        )

    def _new_follower(self) -> Follower:
        return make_follower(self._settings.follow, self._rate, self.harp.lowest_hz / _SEMITONE)

    def _tell(self, event: Event) -> None:
        if isinstance(event, (NoteOn, NoteOff)):
            self._sounds = isinstance(event, NoteOn)
            self._sounded_s = max(self._sounded_s, event.time_s)
        if self.armed:
            for hear in self._learners:
                hear(event)
        if self.armed and not self.held.sought:
            self.notes += isinstance(event, NoteOn)
            if self._steady is not None and not isinstance(event, PitchPoint):
                self._steady.hold(event)
            else:
                self._play([event])
        elif not isinstance(event, PitchPoint):
            return
        for hear in self._watchers:
            hear(event)
        if self._tuned is not None and isinstance(event, NoteOff):
            self._tune_on(self._tuned)

    def _play(self, events: Iterable[Event]) -> None:
        for event in events:
            self._hearing.tell(event)
            for hear in self._players:
                hear(event)
