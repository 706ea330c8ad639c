"""A recording on the board waits for the first page, a key, its time, or the end."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from bridge.base.clock import ManualClock
from bridge.base.commands import Arm, Begin, Command, Quiet, Stop
from bridge.wiring.first_page import wait_for_page
from bridge.wiring.steady import StopRequest
from wiring.test_displays import Screen


class Late(Screen):
    """A display that asks for something once a second has passed."""

    def __init__(self, clock: ManualClock, wants: Sequence[Command]) -> None:
        super().__init__(list(wants))
        self._clock = clock

    def poll_commands(self) -> list[Command]:
        """Nothing before."""
        return super().poll_commands() if self._clock.now() >= 1.0 else []


def _waited(wants: Sequence[Command], *, keys: bool = True) -> tuple[float, list[str], bool]:
    """How long it waited, what was said, and whether it ends."""
    clock, said, stop = ManualClock(), list[str](), StopRequest()
    displays = [Screen(), Late(clock, wants)]
    wait_for_page(displays, " at http://127.0.0.1:8350/", 60.0, stop, said.append, clock, keys=keys)
    return clock.now(), said, stop.wanted


@pytest.mark.parametrize("wanted", [Begin(), Arm()])
def test_a_page_or_a_key_begins_it(wanted: Command) -> None:
    """At once; what else was asked for meanwhile does not."""
    waited_s, said, stopped = _waited([Quiet(sounding=False), wanted])
    assert waited_s == pytest.approx(1.0, abs=0.05)
    assert said == [
        "Waiting for the page at http://127.0.0.1:8350/; without one it begins in 60 s. Space or Enter begins at once.",
        "It begins.",
    ]
    assert not stopped


def test_without_anybody_it_begins_all_the_same() -> None:
    """After the time that was said, which is told; where there are no keys none are named."""
    waited_s, said, stopped = _waited([], keys=False)
    assert waited_s == pytest.approx(60.0, abs=0.05)
    assert said == [
        "Waiting for the page at http://127.0.0.1:8350/; without one it begins in 60 s.",
        "No page was opened for 60 s: it begins without one.",
    ]
    assert not stopped


def test_it_can_be_stopped_meanwhile() -> None:
    """With q; then it does not begin."""
    waited_s, said, stopped = _waited([Stop()])
    assert waited_s < 2.0
    assert len(said) == 1
    assert stopped
