"""What is heard while a sound is played, and a part of a stream, both counted from their own beginning."""

from __future__ import annotations

import numpy as np
import pytest

from bridge.base.errors import ClosedError, UserError
from bridge.base.events import AudioBlock
from bridge.capture import played_along as module
from bridge.capture.loudspeaker import Loudspeaker
from bridge.capture.played_along import Excerpt, PlayedAlong
from bridge.capture.settings import CaptureSettings
from bridge.capture.source import Source, no_sound_yet
from capture.test_loudspeaker import BLOCK, SOUND, MadeUpSound, sound
from sounds.played import Played

__all__ = ["sound"]


def all_of(source: Source) -> np.ndarray:
    """Everything a source gives, put together where it says it belongs."""
    heard: list[np.ndarray] = []
    with source:
        while (block := source.read(1.0)) is not None:
            assert block.start == sum(map(len, heard))
            heard.append(block.samples)
    return np.concatenate(heard)


def test_what_comes_back_is_counted_from_the_first_sample_played(sound: MadeUpSound) -> None:
    """Half of it a block later, the whole length of the sound; and so again."""
    with Loudspeaker(CaptureSettings(channel=2)) as loudspeaker:
        for _ in range(2):
            heard = all_of(PlayedAlong(loudspeaker, SOUND))
            assert len(heard) == len(SOUND)
            np.testing.assert_array_equal(heard[BLOCK:], 0.5 * SOUND[:-BLOCK])
        source = PlayedAlong(loudspeaker, SOUND)
        assert source.live
        assert source.rate == loudspeaker.rate
        with pytest.raises(ClosedError):
            source.read(0.0)


def test_a_card_that_gives_nothing_is_told(sound: MadeUpSound, monkeypatch: pytest.MonkeyPatch) -> None:
    """First that nothing came in time, then what to do."""
    sound.dead = True
    with Loudspeaker(CaptureSettings()) as loudspeaker, PlayedAlong(loudspeaker, SOUND) as source:
        block = source.read(0.01)
        assert block is not None
        assert (block.start, len(block.samples)) == (0, 0)
        monkeypatch.setattr(module, "_NOTHING_S", 0.0)
        with pytest.raises(UserError, match=r"Speakers stopped\. Check its plug"):
            source.read(1.0)


class Waiting(Played):
    """A microphone in which the first 300 samples have waited since before."""

    live = True

    def __init__(self) -> None:
        super().__init__(np.arange(2000, dtype=np.float32), 1000)
        self._waited = 0

    def read(self, timeout_s: float) -> AudioBlock | None:
        """What waits comes at once; then nothing has come yet, once."""
        block = super().read(timeout_s) if timeout_s > 0.0 or self._waited < 3 else None
        self._waited += 1
        if block is None and timeout_s == 0.0:
            return no_sound_yet(0, self.rate)
        return block


def test_an_excerpt_begins_with_what_comes_now() -> None:
    """What waited is let go of; it ends after its length, to a block; the next excerpt begins after it."""
    microphone = Waiting()
    first = all_of(Excerpt(microphone, 0.5))
    assert first[0] == 3 * 128
    assert 500 <= len(first) < 500 + 128
    second = all_of(Excerpt(microphone, 0.1))
    assert second[0] == first[-1] + 1.0
