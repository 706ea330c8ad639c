"""The source of sound that the settings ask for."""

from __future__ import annotations

from pathlib import Path

from bridge.base.clock import WallClock
from bridge.capture.paced import Paced
from bridge.capture.rehearsal import Rehearsal, demo_performance
from bridge.capture.sound_file import SoundFile
from bridge.capture.source import Source
from bridge.wiring.card import Card
from bridge.wiring.harps import harp_set
from bridge.wiring.on_harp import quantise_on
from bridge.wiring.settings import Settings

#: Endings that can only mean a file, so that a misspelt file is not looked for among the sound cards.
_SOUND_ENDINGS = (
    *(".aac", ".aif", ".aiff", ".au", ".caf", ".flac", ".m4a", ".mp2", ".mp3", ".oga", ".ogg", ".opus", ".wav", ".wma"),
    *(".avi", ".mka", ".mkv", ".mov", ".mp4", ".weba", ".webm"),
)


def input_source(settings: Settings, clock: WallClock) -> Source:
    """The microphone or sound file named by ``capture.input``, not yet open; a file as fast as it sounds if paced."""
    wanted = settings.capture.input
    if isinstance(wanted, str) and (Path(wanted).suffix.lower() in _SOUND_ENDINGS or Path(wanted).is_file()):
        file = SoundFile(wanted, settings.capture.rate_hz, settings.capture.block)
        return Paced(file, clock) if settings.capture.paced else file
    return Card(settings.capture, clock=clock)


def rehearsal_source(settings: Settings, clock: WallClock) -> Source:
    """The synthetic player's tune on the harp of the settings, at the speed it sounds if paced."""
    held = harp_set(settings.harp).harps[0]
    third = quantise_on(settings, held).third
    performance = demo_performance(
        held.harp.root_hz,
        [reed.hz for reed in held.harp.reeds],
        straight_cents=third.straight_cents,
        minor_cents=third.minor,
        rate=settings.capture.rate_hz,
    )
    source = Rehearsal(performance, settings.capture.block)
    return Paced(source, clock) if settings.capture.paced else source
