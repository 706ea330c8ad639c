"""A take writer for the settings in force."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import metadata

from bridge import __version__
from bridge.send.pitch import SentPitch
from bridge.takes.folder import TakeFolder
from bridge.takes.take_yaml import TakeFacts
from bridge.takes.writer import TakeWriter
from bridge.wiring.harps import HeldHarp
from bridge.wiring.settings import Settings

#: What a take's numbers depend on besides the program itself.
_DISTRIBUTIONS = ("numpy", "aubio-ledfx", "soxr")


def take_facts(settings: Settings, held: HeldHarp, source: str) -> TakeFacts:
    """What ``take.yaml`` says of a take of ``source``."""
    return TakeFacts(
        source=source,
        harp=held.facts(),
        settings=settings.model_dump(mode="json"),
        versions=_versions(),
    )


def open_take(
    settings: Settings,
    held: HeldHarp,
    source: str,
    folder: TakeFolder,
    pitch: SentPitch,
    *,
    live: bool = False,
    rate: int = 48000,
) -> TakeWriter:
    """Begin writing the take of ``source`` in ``folder``; ``pitch`` is what its MIDI file is written by.

    Raises OSError when the folder cannot be written.
    """
    return TakeWriter(
        folder,
        take_facts(settings, held, source),
        midi=settings.send.midi,
        pitch=pitch,
        harp=None if held.sought else held.harp,
        tab=settings.harp.tab,
        settings=settings.takes,
        also_blue=settings.quantise.also_blue,
        live=live,
        rate=rate,
    )


def _versions() -> Mapping[str, str]:
    return {"reedwire": __version__} | {name: metadata.version(name) for name in _DISTRIBUTIONS}
