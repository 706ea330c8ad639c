"""What the engine asks of Python and the system, and gives back when it is done."""

from __future__ import annotations

import os
import sys
from multiprocessing import get_context
from multiprocessing.connection import Connection

import pytest

from bridge.wiring.steady import steady_engine

#: Any user of no privilege will do; this is nobody's on Debian.
_NOBODY = 65534


def _policies(told: Connection) -> None:
    """Be a program that its user has put behind all others: the policy before, inside and after the engine's work."""
    os.sched_setscheduler(0, os.SCHED_IDLE, os.sched_param(0))
    said: list[str] = []
    policies, interval_s = [_policy()], sys.getswitchinterval()
    with steady_engine(said.append, live=True):
        policies.append(_policy())
        if os.geteuid() == 0:
            # What players are: they may have the priority (rtprio in limits.conf), and are not privileged.
            os.setuid(_NOBODY)
    policies.append(_policy())
    told.send((policies, said, sys.getswitchinterval() == interval_s))


def _policy() -> int:
    """The policy of this process, whatever those that it starts will have."""
    return os.sched_getscheduler(0) & ~os.SCHED_RESET_ON_FORK


@pytest.mark.skipif(not hasattr(os, "sched_setscheduler"), reason="this system has no scheduling policies")
def test_the_priority_is_given_back_as_it_was() -> None:
    """Real time inside, where the system allows it, or one line that it does not; behind all others again after."""
    here, there = get_context("spawn").Pipe()
    process = get_context("spawn").Process(target=_policies, args=(there,))
    process.start()
    there.close()  # Else a process that failed would be waited for without end.
    policies, said, same_interval = here.recv()
    process.join()
    inside = os.SCHED_IDLE if said else os.SCHED_FIFO
    assert policies == [os.SCHED_IDLE, inside, os.SCHED_IDLE]
    assert len(said) <= 1
    assert same_interval
