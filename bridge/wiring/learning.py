"""What a live performance learns of its harp by itself: which it is, and where its A4 lies."""

from __future__ import annotations

from contextlib import ExitStack
from types import TracebackType
from typing import Any, Self

from bridge.harp.settings import AUTO
from bridge.wiring.asking import Asking, AskingBeside
from bridge.wiring.chain import Chain
from bridge.wiring.live_search import HarpSearch
from bridge.wiring.live_tuning import LiveTuning
from bridge.wiring.notice import Notice
from bridge.wiring.settings import Settings


class Learning:
    """All that the settings ask to be learned of the harp of ``chain``; nothing where they ask for nothing.

    A context manager; ``patient`` is for sound that waits. What goes wrong while learning is told in one line and ends
    only that learning.
    """

    def __init__(self, settings: Settings, chain: Chain, notice: Notice, *, patient: bool) -> None:
        self._notice = notice
        self._patient = patient
        self._opened = ExitStack()
        self._learning: list[HarpSearch | LiveTuning] = []
        if chain.held.sought:
            self._begin(HarpSearch, chain)
        if settings.harp.tune == AUTO:
            self._begin(LiveTuning, chain)

    def attend(self) -> None:
        """Between blocks: learn from what was played."""
        for each in tuple(self._learning):
            try:
                each.attend()
            except Exception as error:  # noqa: BLE001 -- whatever it is, the performance goes on
                self._learning.remove(each)
                self._notice(each.given_up(str(error) or type(error).__name__))

    def _begin(self, learner: type[HarpSearch | LiveTuning], chain: Chain) -> None:
        try:
            asking: Asking[Any] = self._opened.enter_context(Asking() if self._patient else AskingBeside())
        except OSError as error:
            self._notice(learner.given_up(f"no process can be started ({error.strerror})"))
            return
        self._learning.append(learner(chain, asking, self._notice))

    def __enter__(self) -> Self:
        """All is open already."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Say what came of it; wait for nothing that is being asked."""
        self._opened.close()
        for said in filter(None, (each.outcome() for each in self._learning)):
            self._notice(said)
