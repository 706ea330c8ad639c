"""Takes of an hour: ``python -m bench.takes`` (with ``PYTHONPATH=tests:.``) writes ``takes.md``.

The take is made up: thirds and other notes with scoops, releases and vibrato, 250 frames a second, with a sound of the
same pitches, written through the writer of live takes. What follows is done by the commands that a user types, each in
a process of its own whose time and greatest memory the system counts; a take a tenth as long shows what of the memory
grows with the length. ``--minutes 6`` is a quick look; then nothing is written.
"""

from __future__ import annotations

import argparse
import csv
import math
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from bench.takes_page import EDITED_REBUILD, PLAIN_REBUILD, Cost, Size, page
from bridge.base.events import AudioBlock, Event, Inflection, NoteOff, NoteOn, PitchPoint
from bridge.base.units import hz_above
from bridge.send.midi_encoder import MidiEncoder
from bridge.send.pitch import SentPitch, sent_pitch
from bridge.takes.folder import TakeFolder
from bridge.takes.replayed import Tuned, replayed
from bridge.wiring.harps import harp_set
from bridge.wiring.opening import opened_take
from bridge.wiring.replay_making import grounds, reach_of
from bridge.wiring.settings import load_settings
from bridge.wiring.take_making import open_take
from main_job.command import REEDWIRE

RATE = 48000
FRAME_S = 0.004
#: Every note is sung in so many seconds, the last of them a rest.
ROUND_S, NOTE_S = 0.8, 0.65
#: Degrees, MIDI notes on a C harp in cross position, and cents from there at the beginning and where it is held.
NOTES = (("1", 67, 0.0, 0.0), ("3", 71, -90.0, -35.0), ("3", 71, -60.0, -10.0), ("5", 74, -20.0, 0.0))
VIBRATO_HZ, VIBRATO_CENTS = 5.5, 18.0
#: One note in so many is edited before the take is rebuilt, by so many cents.
EDITED_EACH, EDITED_CENTS = 20, 12.0
_OUT = Path(__file__).with_name("takes.md")
_KB_IN_MB = 1024.0
#: A process counts as its own the memory of the one that began it: a small one begins what is measured.
_RUN = """
import resource, subprocess, sys
done = subprocess.run(sys.argv[1:], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL)
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
sys.exit(done.returncode)
"""


def bend_at(at_s: float, begin_cents: float, held_cents: float) -> float:
    """The bend of a note: up to where it is held within a third of a second, then with vibrato."""
    glide = math.exp(-at_s / 0.08)
    swing = VIBRATO_CENTS * math.sin(math.tau * VIBRATO_HZ * at_s) * (1.0 - math.exp(-at_s / 0.2))
    return held_cents + (begin_cents - held_cents) * glide + swing


def events(seconds: float, root_hz: float) -> Iterator[Event]:
    """The events of the take, frame by frame."""
    note_id, steps = 0, round(ROUND_S / FRAME_S)
    for frame in range(round(seconds / FRAME_S)):
        # In whole frames: a remainder of seconds may come out as a round all but nothing, and a note would be lost.
        turn, step = divmod(frame, steps)
        time_s, at_s = frame * FRAME_S, step * FRAME_S
        degree, midi_note, begin, held = NOTES[turn % len(NOTES)]
        if step > round(NOTE_S / FRAME_S):
            yield PitchPoint(time_s, time_s, 0.0, 0.0, -70.0, 0.0)
            continue
        bend = bend_at(at_s, begin, held)
        cents = 100.0 * (midi_note - 67) + bend
        yield PitchPoint(time_s, time_s, hz_above(root_hz, cents), cents, -20.0, 1.0)
        breath = 0.5 + 0.3 * math.sin(at_s * 5.0)
        value = Inflection(note_id + (step == 0), time_s, time_s, bend, degree, 0.0, 0.0, breath, 0.5 + 0.2 * at_s)
        if step == 0:
            note_id += 1
            yield NoteOn(note_id, time_s, time_s, midi_note, 0.75, value)
        elif step == round(NOTE_S / FRAME_S):
            yield NoteOff(note_id, time_s, time_s)
        else:
            yield value


def sound_of_a_round(root_hz: float) -> np.ndarray:
    """The samples of all notes once, shape (n,); the take repeats them."""
    parts = []
    for _, midi_note, begin, held in NOTES:
        at_s = np.arange(round(ROUND_S * RATE)) / RATE
        bend = np.array([bend_at(moment, begin, held) for moment in at_s[::64].tolist()])
        cents = 100.0 * (midi_note - 67) + np.interp(at_s, at_s[::64], bend)
        phase = math.tau * np.cumsum(root_hz * 2.0 ** (cents / 1200.0)) / RATE
        shape = np.clip(np.minimum(at_s / 0.02, (NOTE_S - at_s) / 0.02), 0.0, 1.0)
        parts.append(0.1 * shape * sum(np.sin(phase * number) / number for number in range(1, 9)))
    return np.concatenate(parts).astype(np.float32)


def write(folder: Path, minutes: float) -> None:
    """Write the take through the writer of live takes, sound and events in turn as they come live."""
    settings = load_settings()
    held = harp_set(settings.harp).harps[0]
    harp = held.harp
    pitch = sent_pitch(settings.send, harp.sharp_cents)
    folder.mkdir()
    samples = sound_of_a_round(harp.root_hz)
    hop = round(FRAME_S * RATE)
    with open_take(settings, held, "made up", TakeFolder(folder), pitch, live=True, rate=RATE) as take:
        begun = -1.0
        for event in events(60.0 * minutes, harp.root_hz):
            if event.time_s > begun:
                begun = event.time_s
                start = round(begun * RATE)
                at = start % len(samples)
                take.add_sound(AudioBlock(start, RATE, samples[at : at + hop]))
            take.add(event)


def open_it(folder: Path, _minutes: float) -> None:
    """Open the take as every command does."""
    opened_take(folder, print)


def replay(folder: Path, _minutes: float) -> None:
    """All events of a replay and their bytes, without waiting for their times."""
    take = opened_take(folder, print)
    encoder = MidiEncoder(take.settings.send.midi, SentPitch())
    for event in replayed(take.notes, grounds(take), reach_of(take, 0.0, None, 1.0, loop=False)):
        if not isinstance(event, Tuned):
            encoder.encode(event)


STAGES: dict[str, Callable[[Path, float], None]] = {"write": write, "open": open_it, "replay": replay}


def cost_of(command: list[str]) -> Cost:
    """Run a command to its end. Raises CalledProcessError when it fails."""
    began_s = time.perf_counter()
    done = subprocess.run([sys.executable, "-IS", "-c", _RUN, *command], stdout=subprocess.PIPE, text=True, check=True)
    cost = Cost(time.perf_counter() - began_s, float(done.stdout) / _KB_IN_MB)
    sys.stderr.write(f"{cost.seconds:6.1f} s, {cost.memory_mb:4.0f} MB: {' '.join(command[-6:])}\n")
    return cost


def edit_some(folder: Path) -> None:
    """Raise the bends of some notes in the table, as by hand."""
    path = folder / "inflections.csv"
    edited = path.with_suffix(".edited")
    with path.open(encoding="utf-8", newline="") as file, edited.open("w", encoding="utf-8", newline="") as out:
        rows, table = csv.reader(file), csv.writer(out, lineterminator="\n")
        header = next(rows)
        place = header.index("bend_cents")
        table.writerow(header)
        for row in rows:
            if int(row[0]) % EDITED_EACH == 0:
                row[place] = f"{float(row[place]) + EDITED_CENTS:.2f}"
            table.writerow(row)
    edited.replace(path)


def lose_what_is_derived(folder: Path) -> None:
    """Leave only what was appended, as a power cut would."""
    for path in (*folder.glob("*.csv"), *folder.glob("*.mid"), *folder.glob("*.musicxml"), *folder.glob("*.txt")):
        if path.name != "curve.csv":
            path.unlink()
    shutil.rmtree(folder / "played")


def measured(parent: Path, minutes: float) -> dict[str, Cost]:
    """The cost of each piece of work on a take of so many minutes."""
    take = parent / "take"
    stage = [sys.executable, "-m", "bench.takes", "--minutes", str(minutes), "--folder", str(take), "--stage"]
    costs = {
        "written live, as fast as it goes": cost_of([*stage, "write"]),
    }
    lose_what_is_derived(take)
    costs |= {
        "opened after a power cut": cost_of([*stage, "open"]),
        "opened": cost_of([*stage, "open"]),
        PLAIN_REBUILD: cost_of([REEDWIRE, "rebuild", str(take)]),
    }
    edit_some(take)
    costs |= {
        EDITED_REBUILD: cost_of([REEDWIRE, "rebuild", "--no-sound", str(take)]),
        "`rebuild`, the sound of these sung again": cost_of([REEDWIRE, "rebuild", str(take)]),
        "`rebuild --no-sound --from performance.mid`": cost_of(
            [REEDWIRE, "rebuild", "--no-sound", str(take), "--from", str(take / "performance.mid")]
        ),
        "replayed, without waiting": cost_of([*stage, "replay"]),
        "`edit scale-bends --dry-run`": cost_of([REEDWIRE, "edit", "scale-bends", str(take), "0.5", "--dry-run"]),
    }
    # Without its sound: to sing every note of an hour again takes many minutes, and is not what is asked here.
    (take / "sound.wav").unlink()
    edit = [REEDWIRE, "edit", "quantise", str(take), "--tempo", "76", "--grid", "1/4", "--out", str(parent / "out")]
    return costs | {"`edit quantise`, every note moved, without sound": cost_of(edit)}


def size_of(folder: Path, minutes: float) -> Size:
    """The size of the take that was measured."""
    lines = [sum(1 for _ in (folder / name).open("rb")) - 1 for name in ("notes.csv", "inflections.csv")]
    bytes_of = [(folder / name).stat().st_size for name in ("performance.mid", "score.musicxml")]
    return Size(round(60.0 * minutes / FRAME_S), *lines, *bytes_of)


def main() -> None:
    """Measure, print the page, and write it where it was the whole hour."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--stage", choices=STAGES)
    parser.add_argument("--folder", type=Path)
    given = parser.parse_args()
    if given.stage is not None:
        STAGES[given.stage](given.folder, given.minutes)
        return
    with tempfile.TemporaryDirectory() as short, tempfile.TemporaryDirectory() as long:
        at_a_tenth = measured(Path(short), given.minutes / 10.0)
        costs = measured(Path(long), given.minutes)
        text = page(given.minutes, costs, at_a_tenth, size_of(Path(long) / "take", given.minutes))
    sys.stdout.write(text)
    if given.minutes >= 60.0:
        _OUT.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
