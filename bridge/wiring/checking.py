"""Looking at room, loudspeaker and recordings before anything is played."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bridge.base.clock import WallClock
from bridge.base.errors import SoundError, UserError
from bridge.base.events import AudioBlock
from bridge.base.units import hz_above, power_to_db
from bridge.base.writing import write_safely
from bridge.capture.loudspeaker import Loudspeaker
from bridge.capture.sound_file import SILENT_PEAK, SoundFile
from bridge.capture.source import Source
from bridge.follow.loudspeaker import LEVELS_DB, LoudspeakerReturn, chirp, find_return, together
from bridge.follow.making import floor_of
from bridge.follow.recorded_levels import RecordedLevels, RecordingMeter
from bridge.follow.room_noise import LearnedRoom, RoomNoise
from bridge.wiring.harps import harp_in_hand
from bridge.wiring.settings import Settings

#: A sound card that has just been started may crackle: so much is passed over, in seconds.
_START_S = 0.3
#: A sound card that gives nothing for this long will not, in seconds.
_PATIENCE_S = 5.0
_READ_TIMEOUT_S = 0.05
_REPEATS = 3
#: Repeats further apart than this do not measure the same thing, in seconds.
_APART_S = 0.002


def learn_room(
    settings: Settings,
    source: Source,
    seconds: float,
    clock: WallClock,
    *,
    also: Callable[[AudioBlock], object] = lambda _: None,
    stopped: Callable[[], bool] = lambda: False,
) -> LearnedRoom:
    """Listen to the open ``source`` for ``seconds``, while nobody plays; less when it is ``stopped``.

    ``also`` is given every block that counts. Raises UserError when nothing comes.
    """
    room = RoomNoise(settings.follow, source.rate, floor_hz(settings))
    passed = 0
    for block in heard_for(source, math.inf, clock, stopped):
        if passed < _START_S * source.rate:
            passed += len(block.samples)
            continue
        room.hear(block)
        also(block)
        if room.seconds >= seconds:
            break
    return room.learned()


def heard_for(
    source: Source, seconds: float, clock: WallClock, stopped: Callable[[], bool] = lambda: False
) -> Iterator[AudioBlock]:
    """What comes from the open ``source`` until that many seconds of sound have come, or it is ``stopped``.

    Raises UserError when nothing comes any more.
    """
    heard, heard_at = 0, clock.now()
    while heard < seconds * source.rate and not stopped():
        block = source.read(_READ_TIMEOUT_S)
        if block is None or clock.now() - heard_at > _PATIENCE_S:
            raise UserError(f"Nothing comes from the sound input {source.name}. Check its plug and its switch.")
        if len(block.samples):
            heard_at = clock.now()
            heard += len(block.samples)
            yield block


def with_gate(settings: Settings, room: LearnedRoom) -> Settings:
    """The settings with the gate that was learned."""
    follow = settings.follow.model_copy(update={"gate": room.gate()})
    return settings.model_copy(update={"follow": follow})


def save_gate(path: Path, room: LearnedRoom) -> None:
    """Write the gate as a preset of its own. Raises UserError when the file cannot be written."""
    text = (
        f"# The room of {time.strftime('%Y-%m-%d %H:%M')}, learned by reedwire check: its noise is at "
        f"{room.noise_db:.1f} dBFS.\n# What is not said here is as in default.yaml.\n\n"
        "follow:\n  # dBFS above which a sound may begin, and below which it has ended.\n"
        f"  gate:\n    open_db: {room.open_db:.1f}\n    close_db: {room.close_db:.1f}\n"
    )
    try:
        write_safely(path, text)
    except OSError as error:
        raise UserError(f"{path} cannot be written ({error.strerror}). Choose another file.") from error


def measure_loudspeaker(loudspeaker: Loudspeaker) -> tuple[LoudspeakerReturn, float] | None:
    """What comes back from the running ``loudspeaker``, and at which level (dBFS) it was played.

    Begins quietly and gets louder only while nothing is found. None when nothing comes back even then, or not the same
    each time.
    """
    for level_db in LEVELS_DB:
        sound = chirp(loudspeaker.rate, level_db)
        found = _once(loudspeaker, sound)
        if found is None:
            continue
        found_again = [_once(loudspeaker, sound) for _ in range(_REPEATS - 1)]
        all_found = [found, *(each for each in found_again if each is not None)]
        delays = [each.delay_s for each in all_found]
        if len(all_found) == _REPEATS and max(delays) - min(delays) <= _APART_S:
            return together(all_found), level_db
    return None


def measure_recording(settings: Settings, path: Path, seconds: float | None = None) -> RecordedLevels:
    """The levels of a sound file, of its first ``seconds`` if given.

    Raises SoundError when it cannot be read, or when nothing could be heard in it.
    """
    with SoundFile(path, settings.capture.rate_hz, settings.capture.rate_hz) as source:
        meter = RecordingMeter(source.rate, floor_hz(settings))
        end = math.inf if seconds is None else round(seconds * source.rate)
        while (block := source.read(0.0)) is not None and block.start < end:
            meter.hear(_until(block, end))
        levels = meter.levels()
        if seconds is None:
            source.require_sound()
        elif levels.peak_db < power_to_db(SILENT_PEAK**2):
            problem = f"is silent throughout its first {levels.seconds:.1f} s"
            raise SoundError(path, problem, "Look at more of it, with a greater --seconds or without")
    return levels


def _until(block: AudioBlock, end: float) -> AudioBlock:
    """What of the block comes before sample ``end`` of its stream."""
    left = end - block.start
    return block if left >= len(block.samples) else replace(block, samples=block.samples[: int(left)])


def _once(loudspeaker: Loudspeaker, sound: NDArray[np.float64]) -> LoudspeakerReturn | None:
    return find_return(sound, loudspeaker.play(sound.astype(np.float32)), loudspeaker.rate)


def floor_hz(settings: Settings) -> float:
    """The lowest pitch that is followed: a semitone below the harp's lowest reed unless it is set."""
    harp = harp_in_hand(settings.harp)
    return floor_of(settings.follow, hz_above(harp.lowest_hz, -100.0))
