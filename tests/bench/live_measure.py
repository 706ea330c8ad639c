"""One performance of ``reedwire play`` on a silent sound card at 48 kHz / 128, timed in JACK frames.

A JACK client plays a known sound into PortAudio's port and stamps the MIDI that comes back with the frame at which its
period began; so the clock of the sound card is the only clock. The follower's own delay for each note is ``ready_s`` of
the same sound through the same chain without card, port or other process.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bench.aligning import cents_above_1_hz, moving, truth_at
from bridge.base.events import AudioBlock, Event, NoteOff, NoteOn
from bridge.base.units import midi_to_hz
from bridge.wiring.chain import Chain
from bridge.wiring.settings import load_settings
from jack_server import jack_server
from main_job.jack_clock import JackClock
from main_job.live import is_note_on, performance
from main_job.live_run import connect, terminate
from parts import running
from sounds.known import TRUTH_STEP_S, Floats, KnownSound, TruthNote
from sounds.rehearsed import RATE, rehearsed

PERIOD = 128
#: What ``performance`` sets; the chain that is compared must have it too.
_BEND_RANGE = 12
#: Silence before the sound, for the chain alone: it too has heard the room before the first note.
_BEFORE_S = 1.024
#: A Note On belongs to what was played, or to what the chain alone made of it, within this time.
_SAME_S = (-0.03, 0.15)
_LAGS_S: Floats = np.arange(-0.005, 0.05, 0.0005)
_LEAST_MOVING_S = 0.1


@dataclass(frozen=True, eq=False)
class LiveTimed:
    """What one performance gave, all times in milliseconds, one value a note.

    ``extra`` is what the live path adds to the follower's own delay, ``onset`` from the attack to Note On, ``bend``
    how late the bend that was sent follows the pitch that was played (notes that move for 0.1 s or more); ``notes`` is
    how many Note Ons came, ``alone`` how many the chain alone makes; ``unlike`` counts those of either that the other
    has not, ``stuck`` the notes left sounding, ``xruns`` how often the sound server was late, ``load`` the machine's
    over the last minute, at the end.
    """

    extra: Floats
    onset: Floats
    bend: Floats
    notes: int
    alone: int
    unlike: int
    stuck: int
    xruns: int
    load: float
    said: str


def rehearsals(count: int) -> KnownSound:
    """So many rehearsals on a C harp one after another, each by another player on another tuning (79 notes each)."""
    each = [rehearsed("C", seed) for seed in range(1, count + 1)]
    whole = each[0]
    for sound in each[1:]:
        whole = _joined(whole, sound)
    return whole


def measure(sound: KnownSound, folder: Path, *, busy: bool = False, take: bool = False) -> LiveTimed:
    """Play ``sound`` live; ``busy`` keeps one core spinning, ``take`` has a take written meanwhile."""
    alone = _alone(sound)
    arguments = ("--midi", "player", *(("--take", str(folder / "takes")) if take else ()))
    with ExitStack() as opened:
        env = opened.enter_context(jack_server(period=PERIOD, urgent=True))
        live = opened.enter_context(performance(folder / "run", sound.samples, env, arguments))
        connect(live, own_port=False)
        if busy:
            opened.enter_context(_spinning())
        live.player.order("play")
        # Longer than anything else that is waited for: patience begins when it should be over.
        time.sleep(sound.length_s)
        live.player.wait_for("played")
        terminate(live)
        heard = live.ended()
        clock = JackClock(live.player.said("placed"), RATE)
        messages = [(int(line["at"]), bytes.fromhex(line["data"])) for line in live.player.said("midi")]
    ons = [(clock.seconds(at), data[1]) for at, data in messages if is_note_on(data)]
    on_s = np.array([at_s for at_s, _ in ons])
    alone_s = clock.seconds_of(np.array([ready_s for ready_s, _ in alone]))
    pairs = _paired([(float(at_s), number) for at_s, (_, number) in zip(alone_s, alone, strict=True)], ons)
    attacks = clock.seconds_of(np.array([note.attack_s for note in sound.notes]))
    return LiveTimed(
        extra=1000.0 * np.array([live_s - ready_s for ready_s, live_s in pairs]),
        onset=1000.0 * np.array(_after(attacks, on_s)),
        bend=1000.0 * np.array(_bend_lags(sound, [(clock.sound_s(at), data) for at, data in messages])),
        notes=len(ons),
        alone=len(alone),
        unlike=len(alone) + len(ons) - 2 * len(pairs),
        stuck=_left_sounding([data for _, data in messages]),
        xruns=heard.xruns,
        load=os.getloadavg()[0],
        said=heard.said.err,
    )


def _joined(first: KnownSound, second: KnownSound) -> KnownSound:
    """Two sounds as one; the second begins on a whole step of the truth and of the sound card's blocks."""
    step = round(TRUTH_STEP_S * RATE) * PERIOD
    whole = -(-len(first.samples) // step) * step
    shift_s = whole / RATE
    points = round(shift_s / TRUTH_STEP_S)
    gap = points - len(first.times_s)
    notes = tuple(_later(note, shift_s) for note in second.notes)
    return KnownSound(
        f"{first.name}; {second.name}",
        RATE,
        np.concatenate([np.pad(first.samples, (0, whole - len(first.samples))), second.samples]),
        (*first.notes, *notes),
        np.arange(points + len(second.times_s), dtype=np.float64) * TRUTH_STEP_S,
        np.concatenate([np.pad(first.hz, (0, gap)), second.hz]),
        np.concatenate([np.pad(first.scored, (0, gap)), second.scored]),
    )


def _later(note: TruthNote, shift_s: float) -> TruthNote:
    """The same note so much later."""
    start, end = note.start_s + shift_s, note.end_s + shift_s
    attack, silent = note.attack_s + shift_s, note.silent_s + shift_s
    return replace(note, start_s=start, end_s=end, attack_s=attack, silent_s=silent)


def _alone(sound: KnownSound) -> list[tuple[float, int]]:
    """(ready_s from the sound's beginning, MIDI note) of every note that the chain alone makes of the sound."""
    settings = load_settings(flags={"harp.key": "C", "send.midi.bend_range": _BEND_RANGE})
    chain = Chain(settings, RATE)
    heard: list[Event] = []
    chain.add_player(lambda event: heard.append(event) if isinstance(event, NoteOn | NoteOff) else None)
    before = round(_BEFORE_S * RATE)
    samples: NDArray[np.float32] = np.concatenate([np.zeros(before, np.float32), sound.samples])
    for start in range(0, len(samples), PERIOD):
        chain.feed(AudioBlock(start, RATE, samples[start : start + PERIOD]))
    chain.finish()
    return [(event.ready_s - before / RATE, event.midi_note) for event in heard if isinstance(event, NoteOn)]


def _paired(alone: list[tuple[float, int]], live: list[tuple[float, int]]) -> list[tuple[float, float]]:
    """(alone, live) times of the notes that both have, with the same number and near each other, in order."""
    pairs, place = [], 0
    for alone_s, number in alone:
        for index in range(place, len(live)):
            live_s, live_number = live[index]
            if live_s - alone_s > _SAME_S[1]:
                break
            if live_number == number and live_s - alone_s >= _SAME_S[0]:
                pairs.append((alone_s, live_s))
                place = index + 1
                break
    return pairs


def _after(attacks: Floats, ons: Floats) -> list[float]:
    """Seconds from each attack to the first Note On that belongs to it; attacks without one are left out."""
    delays = []
    for attack, following in zip(attacks, [*attacks[1:], np.inf], strict=True):
        near = ons[(ons >= attack + _SAME_S[0]) & (ons < min(attack + _SAME_S[1], following))]
        delays += [float(near[0] - attack)] if len(near) else []
    return delays


def _bend_lags(sound: KnownSound, stamped: list[tuple[float, bytes]]) -> list[float]:
    """For each note that moves long enough, the shift in seconds that brings sent and played pitch closest."""
    at_s, cents = _sent_cents(stamped)
    moves = moving(sound)
    lags = []
    for note in sound.notes:
        first, last = np.searchsorted(sound.times_s, [note.attack_s, note.end_s])
        times = sound.times_s[first:last][moves[first:last]]
        if len(times) * TRUTH_STEP_S < _LEAST_MOVING_S:
            continue
        truth = truth_at(sound, times).cents
        errors = []
        for lag in _LAGS_S:
            place = np.searchsorted(at_s, times + lag, side="right") - 1
            errors.append(float(np.mean(np.minimum(np.abs(cents[place] - truth), 50.0) ** 2)))
        # A note whose number or pitch was not followed at all says nothing of time.
        if min(errors) < 20.0**2:
            lags.append(float(_LAGS_S[int(np.argmin(errors))]))
    return lags


def _sent_cents(stamped: list[tuple[float, bytes]]) -> tuple[Floats, Floats]:
    """When the pitch that a synth plays changes, seconds, and to what, cents above 1 Hz (MIDI 1.0, 4.2.1)."""
    at_s, cents, number, bend = [-1.0], [0.0], 0, 0.0
    for time_s, data in stamped:
        if data[0] & 0xF0 == 0xE0:
            bend = (data[1] + 128 * data[2] - 8192) / 8192 * 100.0 * _BEND_RANGE
        elif is_note_on(data):
            number = data[1]
        else:
            continue
        at_s.append(time_s)
        cents.append(float(cents_above_1_hz(np.array([midi_to_hz(number, 440.0)]))[0]) + bend)
    return np.array(at_s), np.array(cents)


def _left_sounding(messages: list[bytes]) -> int:
    """How many notes a synth is left with at the end, before All Notes Off may save it."""
    sounding: set[int] = set()
    for data in messages:
        if is_note_on(data):
            sounding.add(data[1])
        elif data[0] & 0xE0 == 0x80:
            sounding.discard(data[1])
    return len(sounding)


@contextmanager
def _spinning() -> Iterator[subprocess.Popen[bytes]]:
    """A program that keeps one core busy."""
    with running([sys.executable, "-c", "while True: pass"]) as process:
        yield process
