"""The round trip by MIDI: a sampled harmonica through the bridge into fluidsynth, and what Praat measures on both.

The voice is program 81 of General MIDI Level 1, counted from 1, whose recorded samples are steady. How each of its
keys lies against equal temperament is the sound font's own affair: it is measured on a held key and taken out.
"""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path

import mido
import numpy as np
import pytest
import soundfile

from bridge.base.events import AudioBlock, Event, NoteOn
from bridge.base.units import midi_to_hz
from bridge.send.midi_output import MidiOutput
from bridge.send.pitch import SentPitch
from bridge.wiring.chain import Chain
from bridge.wiring.settings import load_settings
from parts import require
from sounds.known import Floats, KnownSound
from sounds.praat import praat_curve, settled_hz
from sounds.sampled import sampled

RATE = 48000
LEAD = 80
BLOCK = 128
#: What is not scored at both ends of a note: its attack, and the release of the synth's voice.
HEAD_S, END_S = 0.06, 0.03
#: Largest deviation allowed at the 95th percentile, cents; half of what musicians just notice (10 cents, Arndt 2020).
MOST_CENTS = 5.0
WAYS = {
    "one channel, range 2": ["send.midi.bend_range=2"],
    "one channel, range 12": ["send.midi.bend_range=12"],
    # The voice would answer pressure with a vibrato of its own (SoundFont 2.04, 8.4.7, default modulator).
    "MPE": ["send.midi.mode=mpe", "send.midi.mpe_breath=controller"],
}


class _Wire:
    """A port that keeps every message with the time at which it was sent, in seconds of the stream."""

    def __init__(self) -> None:
        self.now_s = 0.0
        self.sent: list[tuple[float, bytes]] = []

    def open(self) -> None:
        """Nothing to do."""

    def send(self, data: bytes) -> None:
        """Keep it."""
        self.sent.append((self.now_s, data))

    def close(self) -> None:
        """Nothing to do."""


def _played(sound: KnownSound, *sets: str) -> tuple[list[tuple[float, bytes]], list[NoteOn]]:
    """What the bridge sends while the sound is played to it live, and the notes it began."""
    settings = load_settings(None, ["harp.key=C", *sets])
    chain, wire, notes = Chain(settings, sound.rate), _Wire(), []
    output = MidiOutput(settings.send.midi, SentPitch(), wire)
    output.open()

    def send(event: Event) -> None:
        wire.now_s = event.ready_s
        if isinstance(event, NoteOn):
            notes.append(event)
        output.send(event)

    chain.add_player(send)
    for start in range(0, len(sound.samples), BLOCK):
        chain.feed(AudioBlock(start, sound.rate, sound.samples[start : start + BLOCK]))
    chain.finish()
    output.close()
    return wire.sent, notes


def _sung(sent: Sequence[tuple[float, bytes]], folder: Path) -> Floats:
    """What fluidsynth makes of these messages, dry: a MIDI file with ticks of 0.1 ms, (samples,)."""
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
    command += ["-T", "wav", "-O", "float", "-F", str(folder / "out.wav")]
    command += [require("soundfont"), str(folder / "in.mid")]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    samples, _ = soundfile.read(folder / "out.wav", dtype="float64", always_2d=True)
    return np.asarray(samples[:, 0])


@cache
def _key_is_off(key: int, folder: Path) -> float:
    """Cents by which the voice's key lies above equal temperament, held and settled."""
    wanted = midi_to_hz(key)
    held = _sung([(0.0, bytes((0x90, key, 100))), (1.0, bytes((0x80, key, 64)))], folder)
    heard = settled_hz(held.astype(np.float32), RATE, 0.0, 0.95, wanted / 1.3, wanted * 1.3, 0.2)
    return float(1200.0 * np.log2(heard / wanted))


def _deviations(
    sound: KnownSound, voice: Floats, notes: Sequence[NoteOn], offset: Callable[[int], float]
) -> tuple[float, Floats]:
    """The lag in s that fits best, and the cents between voice and harmonica with it, point by point."""
    begun = np.array([note.ready_s for note in notes])
    keys = np.array([note.midi_note for note in notes])
    own = np.array([offset(int(key)) for key in keys])
    times, found = [], []
    for note in sound.notes:
        inside = sound.scored & (sound.hz > 0.0)
        inside &= (sound.times_s >= note.attack_s + HEAD_S) & (sound.times_s <= note.end_s - END_S)
        if not np.any(inside):
            continue
        low, high = float(np.min(sound.hz[inside])) / 1.2, float(np.max(sound.hz[inside])) * 1.2
        first = max(0, round((note.attack_s - 0.05) * RATE))
        heard_s, heard_hz = praat_curve(
            voice[first : round((note.end_s + 0.15) * RATE)].astype(np.float32), RATE, low, high
        )
        heard_s = heard_s + first / RATE
        at = np.clip(np.searchsorted(begun, heard_s, side="right") - 1, 0, None)
        kept = heard_hz > 0.0
        found.append((heard_s[kept], 1200.0 * np.log2(heard_hz[kept]) - own[at][kept]))
        times.append((sound.times_s[inside], 1200.0 * np.log2(sound.hz[inside])))

    def at_lag(lag_s: float) -> Floats:
        parts = [
            np.interp(t + lag_s, heard, cents) - meant
            for (t, meant), (heard, cents) in zip(times, found, strict=True)
            if len(heard)
        ]
        return np.asarray(np.abs(np.concatenate(parts)))

    lags = np.arange(0.0, 0.04, 0.0005)
    best = float(lags[int(np.argmin([np.mean(np.minimum(at_lag(lag), 50.0)) for lag in lags]))])
    return best, at_lag(best)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("score", ["phrase", "blue thirds", "vibrato"])
def test_the_synth_sings_the_harmonicas_pitch(
    way: str, score: str, tmp_path: Path, tmp_path_factory: pytest.TempPathFactory, record_property: Callable[..., None]
) -> None:
    """Praat's pitch of the synth is within 5 cents of its pitch of the harmonica, at the 95th percentile."""
    sound = sampled(score, "C")
    sent, notes = _played(sound, *WAYS[way])
    kept = tmp_path_factory.getbasetemp()
    lag_s, off = _deviations(sound, _sung(sent, tmp_path), notes, lambda key: _key_is_off(key, kept))
    assert len(off) > 1000
    median, p95 = (float(np.quantile(off, part)) for part in (0.5, 0.95))
    for name, value in (("lag_ms", 1000 * lag_s), ("p50_cents", median), ("p95_cents", p95)):
        record_property(name, round(value, 2))
    assert p95 <= MOST_CENTS, f"{way}, {score}: lag {1000 * lag_s:.1f} ms, p50 {median:.2f}, p95 {p95:.2f} cents"
