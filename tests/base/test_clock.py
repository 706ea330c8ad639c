"""The two clocks."""

from __future__ import annotations

from bridge.base.clock import ManualClock, SystemClock


def test_a_manual_clock_moves_only_when_slept_on() -> None:
    """Sleeping moves it by exactly that, and never back."""
    clock = ManualClock(5.0)
    clock.sleep(2.5)
    clock.sleep(-1.0)
    assert clock.now() == 7.5


def test_the_system_clock_never_goes_back() -> None:
    """It has moved on by at least the time slept, and a negative sleep is no error."""
    clock = SystemClock()
    before = clock.now()
    clock.sleep(0.01)
    clock.sleep(-1.0)
    assert clock.now() - before >= 0.01
