"""A live performance that is asked how late a count-in comes back."""

from __future__ import annotations

import numpy as np
import pytest

from bridge.base.commands import Command, HearClicks
from bridge.base.records import ClicksBack
from bridge.study.clicks import count_in
from sounds.played import Played
from wiring.stand_ins import Ear, run
from wiring.test_displays import Screen

RATE = 48000
DELAY_S = 0.075


@pytest.mark.parametrize("comes_back", [True, False])
def test_what_comes_back_is_told_to_the_displays(*, comes_back: bool) -> None:
    """Once for each time it is asked, when the count-in is over; a negative number where nothing came back."""
    sound = count_in(4, 0.5, 4.0, RATE, 1.0 + DELAY_S) * 0.1 * comes_back
    sound += 1e-4 * np.random.default_rng(1).standard_normal(len(sound))
    screen = Screen([HearClicks(1.0, 0.5, 4)])
    run(Played(sound.astype(np.float32), RATE), Ear(), displays=[screen])
    (back,) = [record for record in screen.shown if isinstance(record, ClicksBack)]
    assert back.delay_s == (pytest.approx(DELAY_S, abs=0.002) if comes_back else -1.0)


def test_the_last_that_is_asked_for_counts() -> None:
    """A count-in that was broken off is not told of; where nothing is asked nothing is told."""
    sound = count_in(4, 0.5, 4.0, RATE, 1.5).astype(np.float32)
    wants: list[list[Command]] = [[HearClicks(0.5, 0.5, 4), HearClicks(1.5, 0.5, 4)], []]
    told: list[list[float]] = []
    for each in wants:
        screen = Screen(each)
        run(Played(sound, RATE), Ear(), displays=[screen])
        told.append([record.delay_s for record in screen.shown if isinstance(record, ClicksBack)])
    assert told == [[pytest.approx(0.0, abs=0.002)], []]
