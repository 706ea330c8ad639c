"""A howl while playing live: told each time it comes."""

from __future__ import annotations

import numpy as np
import pytest

from follow.tones import RATE, harmonic_tone
from wiring.stand_ins import Ear, Tone, run


class Howling(Tone):
    """So many howls, each a pure tone that grows by 20 dB a second for a second, with silence after it."""

    def __init__(self, howls: int) -> None:
        super().__init__()
        grown = harmonic_tone(880.0, 1.0, partials=[1.0]) * 10.0 ** (np.linspace(-40.0, -20.0, RATE) / 20.0)
        self._samples = np.tile(np.concatenate([grown, np.zeros(RATE)]).astype(np.float32), howls)


@pytest.mark.parametrize("howls", [1, 3])
def test_each_howl_is_told_once(howls: int) -> None:
    """While it sounds nothing more is said; when it has gone and comes again, it is told again."""
    said: list[str] = []
    run(Howling(howls), Ear(), notice=said.append)
    assert len(said) == howls
    assert all("howls" in text for text in said)
