"""A sound check with a stand-in for the sound card: what is heard, counted, and left out."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from bridge.base.clock import ManualClock
from bridge.base.errors import UserError
from bridge.base.events import AudioBlock
from bridge.capture.source import Source
from bridge.wiring.settings import load_settings
from bridge.wiring.sound_check import SoundCheck
from follow.checked_sounds import in_room, noise, notes
from follow.tones import RATE

BLOCK = 128
ROOM_S = 2.0
#: The card is passed over for 0.3 s before the room is listened to.
QUIET = round((ROOM_S + 0.3) * RATE) // BLOCK * BLOCK + BLOCK


class Stage(Source):
    """A sound card that plays ``sound`` in blocks of 128, one for each read, called when each is whole.

    ``backlog`` is how many blocks have piled up by the block ``piled_at``.
    """

    name = "stage"
    rate = RATE
    endless = True

    def __init__(self, clock: ManualClock, sound: NDArray[np.float64], piled_at: int = -1, backlog: int = 0) -> None:
        self._clock = clock
        self._sound = sound.astype(np.float32)
        self._next = 0
        self._piled_at, self._backlog = piled_at, backlog

    def open(self) -> None:
        """Nothing to open."""

    def close(self) -> None:
        """Nothing to close."""

    def read(self, _timeout_s: float) -> AudioBlock | None:
        """The next block, or None at the end."""
        count = BLOCK * (1 + (self._backlog if self._next // BLOCK == self._piled_at else 0))
        self._clock.sleep(count / RATE)
        block = AudioBlock(self._next, RATE, self._sound[self._next : self._next + count])
        self._next += count
        self.calls_s = tuple(self._clock.now() - (count - end) / RATE for end in range(BLOCK, count + 1, BLOCK))
        if self._next < RATE // 4:
            self.dropouts += 1
        return block if len(block.samples) else None


def checked(
    sound: NDArray[np.float64], stopped: Callable[[], bool] = lambda: False, **piled: int
) -> tuple[SoundCheck, Stage, ManualClock]:
    """A sound check whose room has been heard."""
    clock = ManualClock()
    stage = Stage(clock, np.concatenate([noise(QUIET), sound]), **piled)
    sound_check = SoundCheck(load_settings(), stage, clock, stopped)
    sound_check.hear_room(ROOM_S)
    return sound_check, stage, clock


def test_room_and_player_are_heard_one_after_the_other() -> None:
    """The room's noise (white, -62 dBFS before the filters), then three notes with the gate of that room."""
    sound_check, _, _ = checked(in_room(notes()))
    room = sound_check.checked.room
    assert room is not None
    assert room.noise_db == pytest.approx(-66.0, abs=1.0)
    assert sound_check.checked.hum is None
    played = sound_check.hear_playing(3.5, room)
    assert (played.lowest, played.highest, played.begun) == (67, 79, 3)
    # The design: a window of a few periods, an onset of 12 ms typically and 23 ms in 95 of 100.
    assert 0.005 < played.begins_s < 0.03
    assert sound_check.checked.budget.measured


def test_the_card_is_timed_in_both_parts_and_its_start_left_out() -> None:
    """Calls 2.7 ms apart throughout; what the card lost while it started is no loss; the work takes no time here."""
    sound_check, _, _ = checked(in_room(notes()))
    room = sound_check.checked.room
    assert room is not None
    sound_check.hear_playing(2.0, room)
    timing = sound_check.checked.timing
    assert timing.handed_s == pytest.approx(BLOCK / RATE)
    assert timing.blocks_at_once == 1
    assert timing.between.count == pytest.approx((ROOM_S + 2.0) * RATE / BLOCK, rel=0.02)
    assert sound_check.checked.lost == 0
    assert timing.work.count == pytest.approx(2.0 * RATE / BLOCK, rel=0.01)


def test_sound_that_piled_up_between_the_parts_is_not_answered_late() -> None:
    """Forty blocks came while nobody read: they are let go of, and their calls still counted as even."""
    sound_check, _, _ = checked(in_room(notes()), piled_at=QUIET // BLOCK, backlog=40)
    room = sound_check.checked.room
    assert room is not None
    sound_check.hear_playing(1.0, room)
    timing = sound_check.checked.timing
    assert timing.answer.sent.most_s < 2 * BLOCK / RATE
    assert timing.between.most_s < 2 * BLOCK / RATE


def test_a_player_who_stops_sooner_is_judged_by_what_was_heard() -> None:
    """Two of three notes."""
    ends: list[bool] = []
    sound_check, _, clock = checked(in_room(notes()), lambda: bool(ends) and clock.time > QUIET / RATE + 2.5)
    room = sound_check.checked.room
    assert room is not None
    ends.append(True)
    played = sound_check.hear_playing(60.0, room)
    assert played.begun == 2


def test_a_card_that_ends_is_told() -> None:
    """An endless stream that has ended went away."""
    sound_check, _, _ = checked(in_room(notes()))
    room = sound_check.checked.room
    assert room is not None
    with pytest.raises(UserError, match="Nothing comes from the sound input stage"):
        sound_check.hear_playing(60.0, room)


def test_hum_of_the_room_is_found() -> None:
    """Fifty hertz and its third at -43 dBFS each: -40 together."""
    time = np.arange(QUIET) / RATE
    hum = 0.01 * (np.sin(2 * np.pi * 50 * time) + np.sin(2 * np.pi * 150 * time))
    clock = ManualClock()
    sound_check = SoundCheck(load_settings(), Stage(clock, noise(QUIET) + hum), clock, lambda: False)
    sound_check.hear_room(ROOM_S)
    found = sound_check.checked.hum
    assert found is not None
    assert found.mains_hz == 50
    assert found.level_db == pytest.approx(-40.0, abs=0.5)
