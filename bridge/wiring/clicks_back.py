"""Listening, while a page counts in, for how late that comes back: beside the playing, which it hardly holds up."""

from __future__ import annotations

from bridge.base.commands import HearClicks
from bridge.base.events import AudioBlock
from bridge.base.records import ClicksBack
from bridge.study.heard_clicks import ClickListener


class ClicksHearer:
    """Hears nothing until it is asked to."""

    def __init__(self) -> None:
        self._asked: HearClicks | None = None
        self._listener: ClickListener | None = None

    def begin(self, asked: HearClicks) -> None:
        """Listen for these clicks, in place of any others."""
        self._asked, self._listener = asked, None

    def hear(self, block: AudioBlock) -> ClicksBack | None:
        """The next block of the stream; what was found, once it is all heard."""
        asked = self._asked
        if asked is None:
            return None
        if self._listener is None:
            self._listener = ClickListener(asked.first_s, asked.beat_s, asked.beats, block.rate)
        self._listener.hear(block.start, block.samples)
        if not self._listener.over:
            return None
        delay_s = self._listener.delay_s()
        self._asked = self._listener = None
        return ClicksBack(-1.0 if delay_s is None else delay_s)
