"""A whole take: what is there while it happens, after it ended, and after it was killed."""

from __future__ import annotations

import contextlib
import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import mido
import numpy as np
import pytest
import soundfile

from bridge.base.errors import ClosedError
from bridge.base.events import AudioBlock, Event
from bridge.harp.harp import make_harp
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from bridge.takes.folder import TakeFolder, new_take
from bridge.takes.settings import TakeSettings
from bridge.takes.take_yaml import TakeFacts, read_take_yaml
from bridge.takes.writer import TakeWriter
from send.made_events import inflection, note_off, note_on, point


def writer(
    folder: TakeFolder, *, live: bool = False, settings: TakeSettings | None = None, midi: MidiSettings | None = None
) -> TakeWriter:
    """A take of a C harp in cross position."""
    return TakeWriter(
        folder,
        TakeFacts("test", {"key": "C"}, {}),
        midi=midi or MidiSettings(),
        pitch=SentPitch(),
        harp=make_harp("C", 2, 440.0),
        tab="signs",
        settings=settings or TakeSettings(),
        live=live,
    )


def one_note() -> list[Event]:
    """Half a second of B4."""
    events: list[Event] = [point(0.1, hz=493.88), note_on(0.1)]
    for step in range(1, 50):
        events += [point(0.1 + 0.01 * step, hz=493.88), inflection(0.1 + 0.01 * step, bend_cents=-float(step))]
    return [*events, note_off(0.6)]


def names(folder: TakeFolder) -> set[str]:
    """The files of a take."""
    return {path.name for path in folder.path.iterdir()}


def test_a_transcription_holds_exactly_its_files(tmp_path: Path) -> None:
    """Description, frames, sound, the note and its breakpoints, both as played too, its tab, MIDI file and score."""
    folder = new_take(tmp_path, "solo")
    with writer(folder) as take:
        for event in one_note():
            take.add(event)
    assert names(folder) == {
        *("take.yaml", "curve.csv", "sound.wav", "notes.csv", "inflections.csv", "played"),
        *("tab.txt", "performance.mid", "score.musicxml"),
    }
    assert folder.tab.read_text(encoding="utf-8").splitlines()[1:] == ["", "C harp, cross position:", "-3"]
    assert read_take_yaml(folder.description)["harp"] == {"key": "C"}
    assert folder.curve.read_text().count("\n") == 1 + 50
    assert folder.notes.read_text().splitlines()[1] == "1,0.10000,0.50000,71,3,96,3,draw,straight,0.0,"
    assert [m.note for m in mido.MidiFile(folder.midi).tracks[1] if m.type == "note_on"] == [71]


def test_a_live_take_also_keeps_a_journal(tmp_path: Path) -> None:
    """Every event in the journal, the sound as it came, and a thinner curve."""
    folder = new_take(tmp_path, "solo")
    with writer(folder, live=True, settings=TakeSettings(curve_rows_per_second=50.0)) as take:
        take.add_sound(AudioBlock(0, 48000, np.full(4800, 0.25, dtype=np.float32)))
        for event in one_note():
            take.add(event)
    assert names(folder) == {
        "take.yaml",
        "curve.csv",
        "notes.csv",
        "inflections.csv",
        "played",
        "tab.txt",
        "performance.mid",
        "score.musicxml",
        "journal.jsonl",
        "sound.wav",
    }
    kinds = [json.loads(line)["is"] for line in folder.journal.read_text().splitlines()]
    assert kinds == ["on", *["inflection"] * 49, "off"]
    assert soundfile.info(folder.sound).frames == 4800
    assert folder.curve.read_text().count("\n") == 1 + 25


def test_journal_and_midi_file_keep_what_the_wire_would(tmp_path: Path) -> None:
    """At one value in 25 ms, of frames 10 ms apart every third is kept, and the last; the table hears them all."""
    folder = new_take(tmp_path, "solo")
    with writer(folder, live=True, midi=MidiSettings(interval_ms=25.0)) as take:
        for event in one_note():
            take.add(event)
    lines = [json.loads(line) for line in folder.journal.read_text().splitlines()]
    times = [line["time_s"] for line in lines if line["is"] == "inflection"]
    assert times == pytest.approx([0.1 + 0.03 * step for step in range(1, 17)] + [0.59])
    bends = [message for message in mido.MidiFile(folder.midi).tracks[1] if message.type == "pitchwheel"]
    assert len(bends) == 1 + len(times)
    # 49 cents of two semitones each way, 8192 steps (MIDI 1.0, 4.2.1).
    assert bends[-1].pitch == round(-49 / 200 * 8192)


def test_another_harp_is_told_of_everywhere(tmp_path: Path) -> None:
    """The note after the change has the hole of the new harp; description and journal say when it was."""
    folder = new_take(tmp_path, "solo")
    with writer(folder, live=True) as take:
        for event in one_note():
            take.add(event)
        # On an A harp B4 is draw 4 (common practice, no source).
        take.use_harp(make_harp("A", 2, 440.0), {"key": "A"})
        assert read_take_yaml(folder.description)["harp_changes"] == [{"time_s": 0.6, "key": "A"}]
        for event in (point(1.0, hz=493.88), note_on(1.0, 2), note_off(1.5, 2)):
            take.add(event)
    assert [row.split(",")[6:8] for row in folder.notes.read_text().splitlines()[1:]] == [["3", "draw"], ["4", "draw"]]
    lines = [json.loads(line) for line in folder.journal.read_text().splitlines()]
    assert {"is": "harp", "time_s": 0.6, "key": "A"} in lines
    with pytest.raises(ClosedError):
        take.use_harp(make_harp("C", 2, 440.0), {"key": "C"})


def test_sound_can_be_left_out(tmp_path: Path) -> None:
    """Who does not want the sound kept gets none."""
    folder = new_take(tmp_path, "solo")
    with writer(folder, live=True, settings=TakeSettings(keep_sound=False)) as take:
        take.add_sound(AudioBlock(0, 48000, np.zeros(10, dtype=np.float32)))
    assert "sound.wav" not in names(folder)


def test_a_note_that_still_sounds_is_ended_by_the_finish(tmp_path: Path) -> None:
    """An interruption costs no note, neither in the table nor in the MIDI file."""
    folder = new_take(tmp_path, "solo")
    with contextlib.suppress(KeyboardInterrupt), writer(folder) as take:
        for event in one_note()[:-1]:
            take.add(event)
        raise KeyboardInterrupt
    assert folder.notes.read_text().splitlines()[1].startswith("1,0.10000,0.49")
    kinds = [message.type for message in mido.MidiFile(folder.midi).tracks[1]]
    assert kinds.count("note_on") == kinds.count("note_off") == 1


def test_finishing_twice_is_fine_and_a_finished_take_raises(tmp_path: Path) -> None:
    """Nothing is written again, nothing more is taken."""
    folder = new_take(tmp_path, "solo")
    take = writer(folder)
    take.finish()
    folder.notes.write_text("edited by hand")
    take.finish()
    assert folder.notes.read_text() == "edited by hand"
    with pytest.raises(ClosedError):
        take.add(note_on(0.0))
    with pytest.raises(ClosedError):
        take.add_sound(AudioBlock(0, 48000, np.zeros(1, dtype=np.float32)))


def test_one_file_that_cannot_be_written_does_not_cost_the_others(tmp_path: Path) -> None:
    """The error comes out, after everything else was written."""
    folder = new_take(tmp_path, "solo")
    take = writer(folder)
    for event in one_note():
        take.add(event)
    folder.notes.mkdir()
    with pytest.raises(OSError, match=r"notes\.csv"):
        take.finish()
    assert [m.note for m in mido.MidiFile(folder.midi).tracks[1] if m.type == "note_on"] == [71]
    assert folder.curve.read_text().count("\n") == 1 + 50


def test_a_folder_that_holds_a_take_is_not_written_over(tmp_path: Path) -> None:
    """A second writer on the same folder raises, and the first take's curve is as it was."""
    folder = new_take(tmp_path, "solo")
    with writer(folder) as take:
        for event in one_note():
            take.add(event)
    kept = folder.curve.read_bytes()
    with pytest.raises(FileExistsError):
        writer(folder)
    assert folder.curve.read_bytes() == kept


#: Plays into a live take without end, and says when it has begun.
ENDLESS = """
import sys
from pathlib import Path
import numpy as np
from bridge.base.events import AudioBlock
from bridge.takes.folder import TakeFolder
from send.made_events import inflection, note_off, note_on, point
from takes.test_writer import writer

with writer(TakeFolder(Path(sys.argv[1])), live=True) as take:
    print("begun", flush=True)
    frame = 0
    while True:
        time_s = frame * 64 / 48000
        note_id = frame // 100
        take.add_sound(AudioBlock(frame * 64, 48000, np.full(64, 0.5, dtype=np.float32)))
        take.add(point(time_s))
        make = {0: note_on, 99: note_off}.get(frame % 100, inflection)
        take.add(make(time_s, note_id))
        frame += 1
"""


@pytest.mark.parametrize("seed", range(4))
def test_a_killed_take_keeps_all_but_the_last_moment(tmp_path: Path, seed: int) -> None:
    """After SIGKILL at a random moment every line but the last is whole, and the sound is readable to the end."""
    folder = new_take(tmp_path, "solo")
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    command = [sys.executable, "-c", ENDLESS, str(folder.path)]
    with subprocess.Popen(command, env=env, stdout=subprocess.PIPE) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == b"begun\n"
        while child.poll() is None and folder.curve.stat().st_size < 10_000:
            time.sleep(0.01)
        time.sleep(random.Random(seed).uniform(0.0, 0.5))
        child.send_signal(signal.SIGKILL)
    *rows, torn_row = folder.curve.read_bytes().decode().split("\n")
    assert all(len(row.split(",")) == 6 for row in rows)
    assert torn_row.count(",") <= 5
    *lines, _torn_line = folder.journal.read_bytes().split(b"\n")
    events = [json.loads(line) for line in lines]
    assert {event["is"] for event in events} == {"on", "inflection", "off"}
    heard, rate = soundfile.read(folder.sound)
    # Curve and sound reach the file every 0.25 s of stream; the journal is there to the event.
    last_s = events[-1]["time_s"]
    assert float(rows[-1].split(",")[0]) >= last_s - 0.3
    assert len(heard) / rate >= last_s - 0.3
    assert np.abs(heard - 0.5).max() < 1e-6
    assert read_take_yaml(folder.description)["format"] == 1


def test_what_was_left_out_stands_in_the_take(tmp_path: Path) -> None:
    """Spans in seconds with what they were taken for; of none nothing is said."""
    folder = new_take(tmp_path, "take")
    with writer(folder) as take:
        take.leave_out([])
        assert "left_out" not in read_take_yaml(folder.description)
        take.leave_out([(3.20001, 5.8, "a voice")])
    assert read_take_yaml(folder.description)["left_out"] == [{"start_s": 3.2, "end_s": 5.8, "what": "a voice"}]
    with pytest.raises(ClosedError):
        take.leave_out([(0.0, 1.0, "a voice")])
