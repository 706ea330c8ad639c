"""A recording on the board begins when somebody can see it: nobody wants to run to the screen after it."""

from __future__ import annotations

from collections.abc import Sequence

from bridge.base.clock import WallClock
from bridge.base.commands import Arm, Begin, Stop
from bridge.wiring.displays import Display
from bridge.wiring.notice import Notice
from bridge.wiring.steady import StopRequest

_LOOK_S = 0.02


def wait_for_page(
    displays: Sequence[Display],
    where: str,
    seconds: float,
    stop: StopRequest,
    notice: Notice,
    clock: WallClock,
    *,
    keys: bool,
) -> None:
    """Wait until a page is seen, the player presses space or Enter, or ``seconds`` have passed.

    Ends at once when it is asked to stop. ``notice`` says what is waited for, ``where`` it is (`` at ADDRESS``, or
    nothing) and, where there are ``keys``, which ones begin.
    """
    begins = " Space or Enter begins at once." if keys else ""
    notice(f"Waiting for the page{where}; without one it begins in {seconds:g} s.{begins}")
    until_s = clock.now() + seconds
    while clock.now() < until_s and not stop.wanted:
        for command in (command for display in displays for command in display.poll_commands()):
            match command:
                case Begin() | Arm():
                    notice("It begins.")
                    return
                case Stop():
                    stop.wanted = True
        clock.sleep(_LOOK_S)
    if not stop.wanted:
        notice(f"No page was opened for {seconds:g} s: it begins without one.")
