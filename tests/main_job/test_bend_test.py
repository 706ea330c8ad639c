"""The bend test into a real synth: what Praat measures of fluidsynth's sound rises by exactly a semitone.

The voice is program 81 of General MIDI Level 1, counted from 1, whose recorded samples are steady. Its keys need not be
in tune with each other, so that the bent note is compared with the same key unbent.
"""

from __future__ import annotations

import subprocess
from pathlib import Path

import mido
import numpy as np
import pytest
import soundfile

from bridge.base.clock import ManualClock
from bridge.wiring.bend_test import HELD_S, STEPS, bend_output, run_bend_test
from bridge.wiring.settings import load_settings
from parts import require
from sounds.praat import settled_hz

RATE = 48000
LEAD = 80
#: Before the test, so that the synth is ready, in seconds.
LEAD_IN_S = 1.0


class Wire:
    """A port that keeps every message with the time at which it was sent."""

    def __init__(self, clock: ManualClock) -> None:
        self.sent: list[tuple[float, bytes]] = []
        self._clock = clock

    def open(self) -> None:
        """Nothing to open."""

    def send(self, data: bytes) -> None:
        """Keep it."""
        self.sent.append((self._clock.time, data))

    def close(self) -> None:
        """Nothing to close."""


def sung(sent: list[tuple[float, bytes]], folder: Path) -> np.ndarray:
    """What fluidsynth makes of the messages, dry, (n,): a MIDI file with ticks of 0.1 ms."""
    file = mido.MidiFile(ticks_per_beat=5000)
    track = mido.MidiTrack(mido.Message("program_change", channel=channel, program=LEAD) for channel in range(16))
    file.tracks.append(track)
    last = 0
    for at_s, data in sent:
        tick = round(10_000 * at_s)
        track.append(mido.Message.from_bytes(data, time=tick - last))
        last = tick
    file.save(folder / "in.mid")
    command = [require("fluidsynth"), "-q", "-ni", "-R", "0", "-C", "0", "-g", "0.6", "-r", str(RATE), "-z", "64"]
    command += ["-T", "wav", "-O", "float", "-F", str(folder / "out.wav"), require("soundfont"), str(folder / "in.mid")]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    samples, _ = soundfile.read(folder / "out.wav", dtype="float32", always_2d=True)
    return np.asarray(samples[:, 0])


@pytest.mark.parametrize(
    "sets",
    # The voice would answer pressure with a vibrato of its own (SoundFont 2.04, 8.4.7, default modulator).
    [[], ["send.midi.bend_range=12"], ["send.midi.mode=mpe", "send.midi.breath=null"]],
    ids=["range 2", "range 12", "mpe"],
)
def test_the_synth_rises_by_a_semitone(sets: list[str], tmp_path: Path) -> None:
    """Within 1 cent, and back to where it was; a musician just notices 10 (Arndt and others, 2020)."""
    clock = ManualClock()
    wire = Wire(clock)
    outputs = bend_output(load_settings(sets=sets).send.midi, wire, lambda _, error: pytest.fail(str(error)))
    outputs.open()
    clock.sleep(LEAD_IN_S)
    assert run_bend_test(outputs, clock, lambda: False)
    outputs.close()
    sound = sung(wire.sent, tmp_path)
    begun_s = [LEAD_IN_S + place * HELD_S for place in range(len(STEPS))]
    heard = [settled_hz(sound, RATE, start, start + HELD_S - 0.05, 200.0, 350.0, 0.2) for start in begun_s]
    first, second, again, bent, back = 1200.0 * np.log2(np.array(heard) / heard[0])
    assert [first, again, back] == pytest.approx([0.0, 0.0, 0.0], abs=1.0)
    assert bent - again == pytest.approx(100.0, abs=1.0)
    # The key beside it lies where the sound font has it.
    assert second == pytest.approx(100.0, abs=10.0)
