"""What the board must know beforehand: plain values that travel into its process."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from bridge.harp.harp import Harp
from bridge.harp.tab import Convention
from bridge.quantise.third import ThirdZone
from bridge.study.marks import CLEAN_LEAST
from bridge.study.settings import StudySettings
from bridge.web.guard import LOOPBACK, Tokens
from bridge.web.settings import WebSettings

#: Where the page lies.
PAGE = Path(__file__).resolve().parent / "page"


@dataclass(frozen=True)
class BoardSetup:
    """What is played, and who may see it.

    ``third`` is the zone on the first of ``harps``, ``degrees`` those of the scale with the cents of their anchors,
    ``tab`` how holes are written. ``names`` are those that the server may be called by, ``tokens`` what the addresses
    hold where it can be reached from elsewhere. ``page`` is the folder of the page. ``study`` and ``clean_least``
    (0..1, as in ``marks_of``) are what exercises are judged by.
    """

    third: ThirdZone
    degrees: tuple[tuple[str, float], ...]
    harps: tuple[Harp, ...]
    settings: WebSettings = field(default_factory=WebSettings)
    tab: Convention = "signs"
    names: Sequence[str] = LOOPBACK
    tokens: Tokens | None = None
    page: Path = PAGE
    study: StudySettings = field(default_factory=StudySettings)
    clean_least: float = CLEAN_LEAST
