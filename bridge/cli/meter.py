"""The meter's process: reads the hand-off, shows it, and sends key presses back.

On a terminal it draws in place about twenty times a second and never scrolls. Anywhere else (a file, a pipe, a
terminal that cannot place its cursor) it prints one plain line for each finished note, without escape codes.
"""

from __future__ import annotations

import os
import signal
import sys
import time
from contextlib import suppress
from types import FrameType

from rich.console import Console, Group
from rich.live import Live

from bridge.base.commands import Command
from bridge.base.handoff import HandOff
from bridge.base.records import decode, encode
from bridge.cli.keys import Keys
from bridge.cli.meter_view import draw
from bridge.cli.to_width import say
from bridge.takes.display_state import DisplayState
from bridge.wiring.helper_faults import fault_kept
from bridge.wiring.meter_process import MeterSetup
from bridge.wiring.steady import STOP_SIGNALS, ignore_signals

_FRAME_S = 0.05
#: Something is heard, if only silence, hundreds of times a second: after this long without, the sound has stopped.
_STALLED_S = 0.5


def run_meter(feed: HandOff, keys: HandOff, setup: MeterSetup) -> None:
    """Show what comes through ``feed`` until its producer ends or is gone; commands go into ``keys``."""
    ignore_signals()
    for ending in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(ending, _leave)
    signal.pthread_sigmask(signal.SIG_UNBLOCK, STOP_SIGNALS)
    console = Console(highlight=False)
    # A reader (`| head`) or a terminal that went away ends the meter, not the performance.
    with (
        fault_kept("meter", _tell_fault),
        suppress(OSError),
        Keys(setup.terminal, setup.arm_key, len(setup.harps), early=True) as pressed,
    ):
        if console.is_terminal and not console.is_dumb_terminal:
            _draw_in_place(console, feed, keys, setup, pressed)
        else:
            _print_lines(feed, keys, setup, pressed)
    _give_up_output()


def _draw_in_place(console: Console, feed: HandOff, keys: HandOff, setup: MeterSetup, pressed: Keys) -> None:
    """The meter on a screen of its own, which gives way to what was there before."""
    state = DisplayState(setup.harps, setup.tab)
    fed_s = time.monotonic()
    with Live(console=console, screen=True, auto_refresh=False, redirect_stdout=False, redirect_stderr=False) as live:
        while _goes_on(feed, setup):
            for data in feed.drain():
                state.take(decode(data))
                fed_s = time.monotonic()
            state.stalled = time.monotonic() - fed_s > _STALLED_S
            state.unseen = feed.lost
            lines = draw(state, setup, console.width, console.height)
            live.update(Group(*lines), refresh=True)
            _hand_on(pressed.commands(), keys)
            pressed.wait(_FRAME_S)


def _print_lines(feed: HandOff, keys: HandOff, setup: MeterSetup, pressed: Keys) -> None:
    """One plain line a finished note; a change of state and what the bridge says get a line too."""
    state = DisplayState(setup.harps, setup.tab)
    while _goes_on(feed, setup):
        for data in feed.drain():
            before = (state.armed, state.saying, state.harp, state.place)
            finished = state.take(decode(data))
            if finished is not None:
                _line(finished.sentence())
            if state.armed != before[0]:
                _line("listening" if state.armed else "not listening")
            if state.saying != before[1]:
                _line(state.saying)
            if before[2] and (state.harp, state.place) != before[2:]:
                _line(state.harp)
        _hand_on(pressed.commands(), keys)
        pressed.wait(_FRAME_S)


def _line(text: str) -> None:
    """One line, at once."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def _goes_on(feed: HandOff, setup: MeterSetup) -> bool:
    """Whether more can come: the producer has not ended and has not died."""
    return not feed.ended and os.getppid() == setup.parent


def _hand_on(commands: list[Command], keys: HandOff) -> None:
    """Send commands back to the engine."""
    for command in commands:
        keys.push(encode(command))


def _leave(_number: int, _frame: FrameType | None) -> None:
    """Asked to end: leave by the ordinary way out, which puts the terminal back."""
    sys.exit(0)


def _tell_fault() -> None:
    """Nobody else could say it: the notices of a performance are shown here."""
    with suppress(OSError):
        say("The meter stopped by a fault of reedwire itself. The playing goes on; Ctrl-C ends it.", err=True)


def _give_up_output() -> None:
    """Keep the interpreter from complaining about a reader that went away."""
    try:
        sys.stdout.flush()
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
