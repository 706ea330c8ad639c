"""What the engine asks of Python and the system so that a note is never held up, and how it is told to stop."""

from __future__ import annotations

import gc
import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from multiprocessing import resource_tracker
from types import FrameType

#: Seconds after which another Python thread may take over: ten times as often as Python's own default.
_SWITCH_INTERVAL_S = 0.0005
#: Above ordinary programs, below the sound server (JACK's own default is 10 and rises from there).
_PRIORITY = 10
#: What asks a program to end: Ctrl-C, the system, a terminal that is closed, and Ctrl-backslash.
STOP_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT)
#: Ctrl-Z: who is paused ends no note.
PAUSE_SIGNAL = signal.SIGTSTP


class StopRequest:
    """Whether a signal has asked the performance to end."""

    def __init__(self) -> None:
        self.wanted = False

    def __call__(self, _number: int, _frame: FrameType | None) -> None:
        """Be the signal handler."""
        self.wanted = True


@contextmanager
def stop_on_signals() -> Iterator[StopRequest]:
    """Inside, the signals of :data:`STOP_SIGNALS` only ask: what sounds is then ended in good order. None pauses."""
    request = StopRequest()
    before = {number: signal.signal(number, request) for number in STOP_SIGNALS}
    before[PAUSE_SIGNAL] = signal.signal(PAUSE_SIGNAL, signal.SIG_IGN)
    try:
        yield request
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def ignore_signals() -> None:
    """Be a helper that no signal ends or pauses which a terminal sends to all at once: it is for the engine to hear."""
    for number in (*STOP_SIGNALS, PAUSE_SIGNAL):
        signal.signal(number, signal.SIG_IGN)


@contextmanager
def signals_held() -> Iterator[None]:
    """Inside, the signals of :data:`STOP_SIGNALS` wait; a process started inside is born holding them back.

    A whole terminal or process group is told to stop at once, and a new process dies of that until it has said what
    it does with signals. It is for the process itself to say so, and then to unblock those it wants.
    """
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGHUP, signal.SIGQUIT})
    try:
        # Python's tracker ignores the other two; starting it unblocks them here, so it comes first.
        resource_tracker.ensure_running()
        signal.pthread_sigmask(signal.SIG_BLOCK, STOP_SIGNALS)
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def steady_engine(notice: Callable[[str], None], *, live: bool) -> Iterator[None]:
    """Inside, no garbage collection pauses, quick thread switches and, when ``live``, real-time priority if allowed.

    A refusal of the priority is told to ``notice``. Helpers started inside do not inherit it.
    """
    switch_interval = sys.getswitchinterval()
    if live:
        # Worth its pause only where nothing must ever pause again.
        gc.collect()
    gc.freeze()
    gc.disable()
    sys.setswitchinterval(_SWITCH_INTERVAL_S)
    before = _raise_priority(notice) if live else None
    try:
        yield
    finally:
        if before is not None:
            _give_back(*before)
        sys.setswitchinterval(switch_interval)
        gc.enable()
        gc.unfreeze()


def _raise_priority(notice: Callable[[str], None]) -> tuple[int, os.sched_param] | None:
    """Try for real-time priority; where it was given, policy and priority of before."""
    if not hasattr(os, "sched_setscheduler"):
        return None
    before = os.sched_getscheduler(0), os.sched_getparam(0)
    try:
        os.sched_setscheduler(0, os.SCHED_FIFO | os.SCHED_RESET_ON_FORK, os.sched_param(_PRIORITY))
    except OSError:
        notice(
            "No real-time priority: the system refused it. If notes come unevenly, allow it for your user "
            "(group audio, rtprio in limits.conf)."
        )
        return None
    return before


def _give_back(policy: int, priority: os.sched_param) -> None:
    """Have policy and priority of before again; where those take a privilege that is gone, ours stay."""
    # Whoever is not privileged may not take the flag off any more (Linux, sched(7)); it hinders nothing.
    with suppress(OSError):
        os.sched_setscheduler(0, policy | os.SCHED_RESET_ON_FORK, priority)
