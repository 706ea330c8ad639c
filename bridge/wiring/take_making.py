"""A take writer for the settings in force."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import metadata

from bridge import __version__
from bridge.harp.harp import Harp
from bridge.send.pitch import sent_pitch
from bridge.takes.folder import TakeFolder
from bridge.takes.notes import reeds_of
from bridge.takes.take_yaml import TakeFacts
from bridge.takes.writer import TakeWriter
from bridge.wiring.settings import Settings

#: What a take's numbers depend on besides the program itself.
_DISTRIBUTIONS = ("numpy", "aubio-ledfx", "soxr")


def harp_facts(harp: Harp) -> dict[str, object]:
    """What a take says of a harp."""
    return {"key": harp.key, "position": harp.position, "a4_hz": harp.a4_hz}


def take_facts(settings: Settings, harp: Harp, source: str) -> TakeFacts:
    """What ``take.yaml`` says of a take of ``source``."""
    return TakeFacts(
        source=source,
        harp=harp_facts(harp),
        settings=settings.model_dump(mode="json"),
        versions=_versions(),
    )


def open_take(
    settings: Settings, harp: Harp, source: str, folder: TakeFolder, *, live: bool = False, rate: int = 48000
) -> TakeWriter:
    """Begin writing the take of ``source`` in ``folder``. Raises OSError when the folder cannot be written."""
    return TakeWriter(
        folder,
        take_facts(settings, harp, source),
        midi=settings.send.midi,
        pitch=sent_pitch(settings.send, harp.sharp_cents),
        reed_of=reeds_of(harp),
        settings=settings.takes,
        live=live,
        rate=rate,
    )


def _versions() -> Mapping[str, str]:
    return {"reedwire": __version__} | {name: metadata.version(name) for name in _DISTRIBUTIONS}
