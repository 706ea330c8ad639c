"""What a live performance learns of its harp by itself: which it is, and where its A4 lies."""

from __future__ import annotations

from contextlib import ExitStack
from types import TracebackType
from typing import Self

from bridge.harp.settings import AUTO
from bridge.study.likely_harp import Likely
from bridge.study.zero import Zero
from bridge.wiring.asking import Asking
from bridge.wiring.chain import Chain
from bridge.wiring.live_search import HarpSearch
from bridge.wiring.live_tuning import LiveTuning
from bridge.wiring.notice import Notice
from bridge.wiring.settings import Settings


class Learning:
    """All that the settings ask to be learned of the harp of ``chain``; nothing where they ask for nothing.

    A context manager; ``patient`` is for sound that waits.
    """

    def __init__(self, settings: Settings, chain: Chain, notice: Notice, *, patient: bool) -> None:
        self._opened = ExitStack()
        self._learning: list[HarpSearch | LiveTuning] = []
        if chain.held.sought:
            likely = self._opened.enter_context(Asking[Likely | None](patient=patient))
            self._learning.append(HarpSearch(chain, likely, notice))
        if settings.harp.tune == AUTO:
            zero = self._opened.enter_context(Asking[Zero | None](patient=patient))
            self._learning.append(LiveTuning(chain, zero, notice))

    def attend(self) -> None:
        """Between blocks: learn from what was played."""
        for each in self._learning:
            each.attend()

    def __enter__(self) -> Self:
        """All is open already."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Wait for what is being asked at the moment."""
        self._opened.close()
