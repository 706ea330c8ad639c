"""Minutes of playing through a silent sound card: memory of every process, stream time against JACK frames, losses.

The sound is a few rehearsals that go round and round; notes come back by MIDI, stamped in JACK frames, and by OSC, with
the engine's own stream time. Source of the clock: JACK's frame counter is the sound card's. Frames that the server left
out because it was late are taken out of it: no sound came in them. The server waits for whoever is late. On a machine
without a sound card one that does not wait leaves out a few periods a minute by itself, with nothing but an idle
client, and each would look like a loss of ours. What is lost behind it, in rings and hand-offs, is lost all the same.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from difflib import SequenceMatcher
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from jack_server import jack_server
from main_job.fault_room import sounding
from main_job.jack_clock import JackClock
from main_job.live import Heard, Live, is_note_on, performance
from main_job.live_run import connect, terminate
from soak.endless import rehearsal
from soak.memory import Growth, children, held_mb
from sounds.rehearsed import RATE

PERIOD = 128
_LOOK_S = 5.0
_ROUND = 3
#: The order in which ``reedwire play --take`` starts its helpers.
_HELPERS = ("sound card", "take writer", "meter")
_NO_HELPERS = (b"resource_tracker", b"port_looker")


@dataclass(frozen=True)
class JackSoak:
    """What came of it.

    ``drift_ms`` is by how much stream time ran away from JACK frames from the first tenth to the last, ``wander_ms``
    how far it was off in between for 99 of 100 notes; ``notes`` the Note Ons, ``stuck`` those left sounding,
    ``unlike`` the notes that only MIDI or only OSC has, ``outages`` how often it said that the MIDI port was gone,
    which it never was. ``said`` is what the command wrote on its standard error, where losses are told.
    """

    seconds: float
    notes: int
    unlike: int
    outages: int
    stuck: int
    drift_ms: float
    wander_ms: float
    xruns: int
    said: str
    status: int
    growth: Growth

    @property
    def lost(self) -> list[str]:
        """What it said of sound or records that were lost in its own hands."""
        return [line for line in self.said.splitlines() if "was lost" in line or "did not reach" in line]


def soak_jackd(seconds: float, out: Path) -> JackSoak:
    """Play so long through jackd, a take being written; samples of memory go to ``out / "jackd.txt"``."""
    growth = Growth(out / "jackd.txt")
    sounds = [rehearsal(seed)[0] for seed in range(1, _ROUND + 1)]
    arguments = ("--midi", "player", "--take", str(out / "takes"))
    with (
        jack_server(period=PERIOD, patient=True, urgent=True) as env,
        performance(out / "run", np.concatenate(sounds), env, arguments) as live,
    ):
        connect(live, own_port=False)
        live.player.order("loop")
        began = time.monotonic()
        while (passed := time.monotonic() - began) < seconds:
            growth.add(passed, _held(live), notes=live.notes_begun())
            assert live.process.poll() is None, (out / "run" / "err.txt").read_text(encoding="utf-8")
            time.sleep(min(max(0.5, seconds / 200.0), _LOOK_S))
        terminate(live)
        heard = live.ended()
        clock = JackClock(live.player.said("placed"), RATE)
        stamps = [(clock.sound_s(int(line["at"])), bytes.fromhex(line["data"])) for line in live.player.said("midi")]
        looped_xruns = live.player.said("ended")[0]["xruns"]
    return _report(seconds, heard, stamps, looped_xruns, growth)


def _held(live: Live) -> dict[str, float]:
    """MB of the engine and each of its helpers; the process that looks for ports, which comes and goes, left out."""
    mine = [child for child in children(live.process.pid) if not any(one in _command(child) for one in _NO_HELPERS)]
    held = {"engine": held_mb(live.process.pid)}
    return held | {name: held_mb(child) for name, child in zip(_HELPERS, mine, strict=False)}


def _command(process: int) -> bytes:
    try:
        return Path(f"/proc/{process}/cmdline").read_bytes()
    except OSError:
        return b""


def _report(seconds: float, heard: Heard, stamps: list[tuple[float, bytes]], xruns: int, growth: Growth) -> JackSoak:
    by_midi = [(data[1], at_s) for at_s, data in stamps if is_note_on(data)]
    by_osc = [(int(message.arguments[2]), message.time_s) for message in heard.osc if message.address == "/reedwire/on"]
    off_s = _offsets(by_midi, by_osc)
    many = max(1, len(off_s) // 10)
    drift_s = float(np.median(off_s[-many:]) - np.median(off_s[:many]))
    return JackSoak(
        seconds=seconds,
        notes=len(by_midi),
        unlike=len(by_midi) + len(by_osc) - 2 * len(off_s),
        outages=heard.said.out.count("is gone"),
        stuck=len(sounding(data for _, data in stamps)),
        drift_ms=1000.0 * drift_s,
        wander_ms=1000.0 * float(np.quantile(np.abs(off_s - np.median(off_s)), 0.99)),
        xruns=xruns,
        said=heard.said.err,
        status=heard.said.status,
        growth=growth,
    )


def _offsets(by_midi: list[tuple[int, float]], by_osc: list[tuple[int, float]]) -> NDArray[np.float64]:
    """Seconds from OSC's stream time to the JACK time of the same Note On, for each that both have, shape (n,).

    Both are (note number, seconds). What belongs together is told by the order of the numbers, whatever the clocks say.
    """
    sent, told = ([number for number, _ in heard] for heard in (by_midi, by_osc))
    same = SequenceMatcher(a=sent, b=told, autojunk=False).get_matching_blocks()
    return np.array(
        [by_midi[block.a + index][1] - by_osc[block.b + index][1] for block in same for index in range(block.size)]
    )
