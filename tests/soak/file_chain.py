"""Hours of sound through the whole engine in this process, as fast as it goes: follow, quantise, MIDI and OSC.

No take is kept: its tables grow with what is played, as they must, and its sound would be a giant file.
"""

from __future__ import annotations

import os
import socket
import time
from dataclasses import dataclass
from pathlib import Path

from bridge.send.kept_port import PortNews
from bridge.send.midi_output import MidiOutput
from bridge.send.osc_output import OscOutput
from bridge.send.output import Outputs
from bridge.send.pitch import sent_pitch
from bridge.wiring.chain import Chain
from bridge.wiring.live import run_live
from bridge.wiring.settings import load_settings
from soak.endless import Endless
from soak.memory import Growth, held_mb
from sounds.rehearsed import RATE

ENGINE = "engine"


class Balance:
    """A MIDI port in memory that holds nothing: it counts notes, those that sound, and every order that is broken.

    Source: MIDI 1.0, 4.2.1 (Note On with velocity 0 is a Note Off; one channel, one note at a time is our own rule).
    """

    def __init__(self) -> None:
        self.notes = 0
        self.broken = 0
        self.sounding: set[int] = set()

    def open(self) -> None:
        """Nothing to open."""

    def send(self, data: bytes) -> None:
        """Take one message."""
        kind = data[0] & 0xF0
        if kind == 0x90 and data[2] > 0:
            self.broken += bool(self.sounding)
            self.sounding.add(data[1])
            self.notes += 1
        elif kind in (0x80, 0x90):
            self.broken += data[1] not in self.sounding
            self.sounding.discard(data[1])

    def attend(self, _now_s: float) -> PortNews:
        """It is always there."""
        return PortNews.SAME

    def close(self) -> None:
        """Nothing to close."""


@dataclass(frozen=True)
class FileSoak:
    """What came of it: seconds given and seconds the engine counted, notes played and sent, and what went wrong.

    ``broken`` counts Note Ons over a sounding note and Note Offs of none, ``stuck`` the notes left sounding,
    ``failures`` what outputs raised. ``first`` and ``last`` are the notes sent per minute of the first and last fifth.
    """

    given_s: float
    counted_s: float
    took_s: float
    played: int
    notes: int
    broken: int
    stuck: int
    failures: tuple[str, ...]
    first: float
    last: float
    growth: Growth

    @property
    def drift_s(self) -> float:
        """By how much the engine's stream time is off the samples that it was given."""
        return self.counted_s - self.given_s


def soak_file_chain(seconds: float, out: Path) -> FileSoak:
    """Give the engine so many seconds of rehearsals; samples of its memory go to ``out / "file-chain.txt"``."""
    growth = Growth(out / "file-chain.txt")
    port, failures = Balance(), list[str]()
    notes_at: list[tuple[float, int]] = []
    began = time.monotonic()

    def look(at_s: float) -> None:
        passed = time.monotonic() - began
        growth.add(at_s, {ENGINE: held_mb(os.getpid())}, notes=port.notes, wall_s=round(passed))
        notes_at.append((at_s, port.notes))

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as nobody_reads:
        nobody_reads.bind(("127.0.0.1", 0))
        settings = load_settings(
            flags={
                "harp.key": "C",
                "capture.paced": False,
                "send.osc.to": f"127.0.0.1:{nobody_reads.getsockname()[1]}",
            }
        )
        pitch = sent_pitch(settings.send, Chain(settings, RATE).harp.sharp_cents)
        outputs = Outputs(
            [MidiOutput(settings.send.midi, pitch, port), OscOutput(settings.send.osc, pitch, "soak")],
            lambda name, error: failures.append(f"{name}: {error!r}"),
            pitch,
        )
        source = Endless(seconds, look)
        report = run_live(settings, source=source, outputs=outputs, take=None, notice=failures.append)
    look(source.given / RATE)
    return FileSoak(
        given_s=source.given / RATE,
        counted_s=report.seconds,
        took_s=time.monotonic() - began,
        played=source.played,
        notes=port.notes,
        broken=port.broken,
        stuck=len(port.sounding),
        failures=tuple(failures),
        first=_per_minute(notes_at[: max(2, len(notes_at) // 5)]),
        last=_per_minute(notes_at[-max(2, len(notes_at) // 5) :]),
        growth=growth,
    )


def _per_minute(notes_at: list[tuple[float, int]]) -> float:
    """Notes a minute between the first and the last of these (seconds, notes so far)."""
    (from_s, before), (to_s, after) = notes_at[0], notes_at[-1]
    return 60.0 * (after - before) / (to_s - from_s)
