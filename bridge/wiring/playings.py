"""A whole recording or take, heard through the ordinary chain: its notes with their marks, and its sound."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bridge.base.errors import UserError
from bridge.base.printable import printable
from bridge.capture.sound_file import SoundFile
from bridge.capture.source import Source
from bridge.quantise.third import ThirdZone, blue_zones
from bridge.study.alignment import MarkedNote
from bridge.study.marks import marks_of
from bridge.study.note_frames import NoteFrames, NoteListener
from bridge.wiring.chain import Chain
from bridge.wiring.harps import HeldHarp
from bridge.wiring.notice import Notice
from bridge.wiring.on_harp import quantise_on
from bridge.wiring.opening import opened_take
from bridge.wiring.settings import Settings

#: A bend of any depth is one note here, semitones.
_BEND_RANGE = 12
_BLOCK_S = 0.5
_READ_TIMEOUT_S = 0.05
#: All of the sound is kept until the page is made: longer ones are for a take, not for a page, minutes.
_MOST_MINUTES = 10


@dataclass(frozen=True, slots=True, eq=False)
class Playing:
    """What was heard: ``samples``, shape (n,), at ``rate`` Hz, full scale 1, and all its ``notes`` in order.

    ``zone`` is where the third lies on the harp in hand, ``held``.
    """

    name: str
    held: HeldHarp
    zone: ThirdZone
    notes: tuple[MarkedNote, ...]
    samples: NDArray[np.float32]
    rate: int


def hear_playing(
    path: Path, settings: Settings, notice: Notice, progress: Callable[[float], None] = lambda _: None
) -> Playing:
    """Hear a recording on the harp of the settings, or a take on its own; ``progress`` is told 0..1.

    Raises SoundError for sound that cannot be used, UserError for a folder that is no take, a take without sound or
    harp, and for what is too long.
    """
    if not path.is_dir():
        return _hear_file(path, printable(path.name), settings, None, None, progress)
    take = opened_take(path, notice)
    first, *later = take.harps
    if first.held is None:
        raise UserError(f"{path} does not tell which harp it was played on. Give its sound.wav, with --harp.")
    if not take.folder.sound.is_file():
        raise UserError(f"{path} has no {take.folder.sound.name}, and without its sound it cannot be heard again.")
    end_s = next((other.since_s for other in later if not _alike(first.held, other.held)), None)
    if end_s is not None:
        notice(f"{path}: the harp is changed at {end_s:.1f} s; only what was played before counts.")
    harp = take.settings.harp.model_copy(
        update={"key": first.held.harp.key, "position": first.held.harp.position, "file": None, "harps": ()}
    )
    own = take.settings.model_copy(update={"harp": harp})
    return _hear_file(take.folder.sound, printable(path.name), own, first.held, end_s, progress)


def hear_source(source: Source, settings: Settings, name: str, held: HeldHarp) -> Playing:
    """Hear an open source that is known to be short, played on ``held``, to its end."""
    return _hear(source, name, settings, held, None, lambda _: None)


def _alike(held: HeldHarp, other: HeldHarp | None) -> bool:
    """Whether it is the same harp, however it is tuned."""
    return other is not None and (other.harp.key, other.harp.position) == (held.harp.key, held.harp.position)


def _hear_file(
    path: Path,
    name: str,
    settings: Settings,
    held: HeldHarp | None,
    end_s: float | None,
    progress: Callable[[float], None],
) -> Playing:
    rate = settings.capture.rate_hz
    with SoundFile(path, rate, round(_BLOCK_S * rate)) as source:
        whole_s = source.length_s

        def told(now_s: float) -> None:
            if now_s > 60.0 * _MOST_MINUTES:
                raise UserError(
                    f"{path} is longer than {_MOST_MINUTES} minutes. Cut out the part that you want to show."
                )
            if whole_s:
                progress(min(1.0, now_s / whole_s))

        playing = _hear(source, name, settings, held, end_s, told)
        source.require_sound()
    return playing


def _hear(
    source: Source,
    name: str,
    settings: Settings,
    held: HeldHarp | None,
    end_s: float | None,
    told: Callable[[float], None],
) -> Playing:
    """Hear ``source`` on ``held``, else on the harp of the settings, up to ``end_s`` seconds of it."""
    midi = settings.send.midi.on_one_channel().model_copy(update={"bend_range": _BEND_RANGE})
    heard = settings.model_copy(
        update={
            "quantise": settings.quantise.unhurried(),
            "send": settings.send.model_copy(update={"midi": midi}),
        }
    )
    chain = Chain(heard, source.rate, look_ahead=True)
    if held is not None:
        chain.take_found(held.harp)
    listener = NoteListener()
    frames: list[NoteFrames | None] = []
    chain.add_watcher(lambda event: frames.append(listener.take(event)))
    pieces = [np.zeros(0, np.float32)]
    while (block := source.read(_READ_TIMEOUT_S)) is not None:
        pieces.append(block.samples)
        chain.feed(block)
        told(chain.now_s)
        if end_s is not None and chain.now_s >= end_s:
            break
    chain.finish()
    clean_least = settings.quantise.double_stops.clean_least
    marked = [(note, marks_of(note, clean_least=clean_least)) for note in frames if note is not None]
    notes = tuple(MarkedNote(note, marks) for note, marks in marked if marks is not None)
    zone = blue_zones(quantise_on(settings, chain.held))["3"]
    return Playing(name, held or chain.held, zone, notes, np.concatenate(pieces), source.rate)
