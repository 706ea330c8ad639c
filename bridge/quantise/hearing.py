"""What of the sound is the player's: between follower and quantiser, frames lose their pitch where it is not."""

from __future__ import annotations

from collections.abc import Callable

from bridge.base.events import Event, PitchFrame
from bridge.quantise.bleed import BleedGuard, Pause
from bridge.quantise.double_stops import DoubleStops
from bridge.quantise.howl import HowlFilter
from bridge.quantise.left_out import LeftOut
from bridge.quantise.octaves import OctavesAhead
from bridge.quantise.settings import QuantiseSettings
from bridge.quantise.talk import TalkAhead, TalkLive


class Hearing:
    """The rules, in their order: what the program itself sounds, howl, two reeds at once, talk, and the synth's echo.

    ``tells_reeds`` is whether the frames say how surely a reed sounds. A recording is heard with ``look_ahead``: its
    frames come some tenths of a second late, and no note loses its beginning. A ``pause`` that was begun goes on.
    ``sent_cents`` gives what is sent above the MIDI note for a bend that was played, both in cents.
    """

    def __init__(
        self,
        settings: QuantiseSettings,
        *,
        tells_reeds: bool,
        look_ahead: bool,
        pause: Pause | None = None,
        sent_cents: Callable[[float], float] = float,
    ) -> None:
        self._pause = pause or Pause()
        self._howl = HowlFilter(settings.howl)
        self._double_stops = DoubleStops(settings.double_stops)
        self._talk: TalkAhead | TalkLive | None = None
        if tells_reeds and settings.talk.follow == "harp":
            self._talk = TalkAhead(settings.talk) if look_ahead else TalkLive(settings.talk)
        self._octaves = OctavesAhead() if look_ahead else None
        self._guard = BleedGuard(settings.bleed, sent_cents)

    @property
    def howling(self) -> bool:
        """Whether the loudspeaker howls now."""
        return self._howl.howling

    @property
    def left_out(self) -> tuple[LeftOut, ...]:
        """The spans of a recording so far that sounded but were no playing, in order; none when played live."""
        return self._talk.left_out if isinstance(self._talk, TalkAhead) else ()

    def step(self, frame: PitchFrame) -> list[PitchFrame]:
        """The frames that are settled by now, in stream order."""
        frame = self._double_stops.step(self._howl.step(self._pause.step(frame)))
        return self._last(self._talk.step(frame) if self._talk is not None else [frame])

    def finish(self) -> list[PitchFrame]:
        """The frames that still waited."""
        frames = self._last(self._talk.finish()) if self._talk is not None else []
        return frames if self._octaves is None else [*frames, *self._octaves.finish()]

    def tell(self, event: Event) -> None:
        """Hear what was sent to the synth, which may come back."""
        self._guard.tell(event)

    def _last(self, frames: list[PitchFrame]) -> list[PitchFrame]:
        """What is left to do with frames that are no talk: live no synth comes back into a recording."""
        if self._octaves is None:
            return [self._guard.step(frame) for frame in frames]
        return [settled for frame in frames for settled in self._octaves.step(frame)]
