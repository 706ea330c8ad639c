"""Listening to the straight notes of a harp until its tuning is known, and writing the harp's own file."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import yaml

from bridge.base.clock import WallClock
from bridge.base.errors import UserError
from bridge.base.units import hz_above
from bridge.base.writing import write_safely
from bridge.capture.sound_file import SoundFile
from bridge.capture.source import Source
from bridge.follow.making import floor_of, make_follower
from bridge.harp.harp import Harp, make_harp
from bridge.harp.harp_file import HarpFile, harp_from_file, plain_harp_file
from bridge.harp.keys import KEYS
from bridge.study.straight import Fault, Judged
from bridge.study.tones import Tones
from bridge.study.tuning import Tuning, harp_file_of
from bridge.study.tuning_lesson import Lesson
from bridge.wiring.harps import harp_in_hand, read_layout
from bridge.wiring.settings import Settings

#: Without any note for so long nobody plays; between notes the player may rest for longer, and is done sooner when all
#: that is needed was heard. Seconds.
PATIENCE_S, REST_S, DONE_S = 60.0, 180.0, 8.0
#: A sound card that gives nothing for this long will not, in seconds.
_NOTHING_S = 5.0
_READ_TIMEOUT_S = 0.05
_FILE_BLOCK_S = 0.5
#: What sounds in a room though nobody plays keeps nobody waiting.
_NOT_PLAYED: frozenset[Fault | None] = frozenset({"voice", "pure"})


def new_lesson(settings: Settings) -> Lesson:
    """The notes to be played on the harp of the settings.

    Raises UserError for a layout that is wrong, and for a position whose root no straight reed gives.
    """
    return Lesson(harp_in_hand(settings.harp))


def recording_to_tune(settings: Settings, path: Path) -> SoundFile:
    """The recording as a source, not yet open."""
    return SoundFile(path, settings.capture.rate_hz, round(_FILE_BLOCK_S * settings.capture.rate_hz))


def listen(
    settings: Settings,
    source: Source,
    lesson: Lesson,
    tell: Callable[[Judged], None],
    clock: WallClock,
    stopped: Callable[[], bool] = lambda: False,
) -> None:
    """Hear the open ``source`` and tell of each note; the lesson then knows whether all that is needed was heard.

    Ends with the recording, when ``stopped`` says so, after ``PATIENCE_S`` without any note or ``REST_S`` without
    another, or after ``DONE_S`` once the lesson is complete. Raises UserError when a sound card gives nothing,
    SoundError for a recording that is damaged.
    """
    # Our own follower whatever is set, since only it tells voices and two reeds apart.
    follow = settings.follow.model_copy(update={"follower": "own"})
    follower = make_follower(follow, source.rate, floor_of(follow, _lowest_hz(lesson.harp)))
    tones = Tones()
    played_s, came_at = 0.0, clock.now()

    def hear(judged: Judged) -> float:
        tell(judged)
        return played_s if judged.fault in _NOT_PLAYED else judged.tone.start_s + judged.tone.length_s

    while (block := source.read(_READ_TIMEOUT_S)) is not None and not stopped():
        if len(block.samples):
            came_at = clock.now()
        elif clock.now() - came_at > _NOTHING_S:
            raise UserError(f"Nothing comes from the sound input {source.name}. Check its plug and its switch.")
        for frame in follower.follow(block):
            if (tone := tones.step(frame)) is not None:
                played_s = hear(lesson.hear(tone))
        rest_s = (block.start + len(block.samples)) / block.rate - played_s
        done = lesson.step is None and rest_s > DONE_S and not tones.sounding
        if source.live and (done or rest_s > (REST_S if played_s else PATIENCE_S)):
            break
    if (tone := tones.finish()) is not None:
        hear(lesson.hear(tone))


def file_of(harp: Harp, tuning: Tuning) -> HarpFile:
    """The file of the harp with this tuning, measured today."""
    return harp_file_of(tuning, harp, time.strftime("%Y-%m-%d"))


def tuned_harp(file: HarpFile, position: int) -> Harp:
    """The harp as its file says, in ``position``."""
    return harp_from_file(file, position, read_layout(file.layout))


def save_harp_file(path: Path, file: HarpFile) -> None:
    """Write the harp's file, over one that is there. Raises UserError when it cannot be written."""
    text = (
        "# One harp, heard by reedwire tune: its A4 in Hz, and how far each reed that was heard lies from equal\n"
        "# temperament at that A4, in cents. Reeds that are not listed follow the temperament.\n\n"
    )
    text += yaml.safe_dump(plain_harp_file(file), sort_keys=False, allow_unicode=True, default_flow_style=None)
    try:
        write_safely(path, text)
    except OSError as error:
        raise UserError(f"{path} cannot be written ({error.strerror}). Choose another file.") from error


def _lowest_hz(harp: Harp) -> float:
    """A semitone below the lowest reed of any harp, since the harp that is played may be another than the one set."""
    lowest = make_harp(KEYS[0].name, 1, harp.a4_hz, harp.layout)
    return hz_above(min(lowest.lowest_hz, harp.lowest_hz), -100.0)
