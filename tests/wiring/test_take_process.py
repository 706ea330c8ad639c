"""The process that writes a take: it outlives what ends its group, and its own end is told."""

from __future__ import annotations

import csv
import os
import re
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from itertools import repeat
from multiprocessing import active_children
from pathlib import Path
from typing import cast

import numpy as np
import pytest
import soundfile

from bridge.base.events import AudioBlock
from bridge.base.records import TakeStopped
from bridge.capture.source import Source, no_sound_yet
from bridge.takes.folder import TakeFolder, new_take
from bridge.wiring.harps import harp_set
from bridge.wiring.opening import opened_take
from bridge.wiring.recovering import recover_take
from bridge.wiring.settings import load_settings
from bridge.wiring.take_process import TakeProcess, TakeSetup

#: What each take must hold.
CURVES = ("curve.csv", "notes.csv", "inflections.csv")
TABLES = (*CURVES, "take.yaml", "played", "tab.txt", "performance.mid", "score.musicxml", "journal.jsonl", "sound.wav")
DEMO = ("-m", "bridge.cli.main", "demo", "--midi", "none", "--osc", "none", "--set", "send.osc.listen=none")
WRITER = "reedwire-take"
#: What the disk takes of a file, bytes: about four seconds of sound.
FULL = 600_000


@contextmanager
def _demo(out: Path, *more: str) -> Iterator[subprocess.Popen[str]]:
    """A demo in a process group of its own, as a terminal would start it."""
    with subprocess.Popen(
        [sys.executable, *DEMO, *more, "--out", str(out)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        # Not a new session: to a group that is alone in one nobody can say to pause (setpgid(2), orphaned groups).
        process_group=0,
    ) as demo:
        try:
            yield demo
        finally:
            with suppress(ProcessLookupError):
                os.killpg(demo.pid, signal.SIGKILL)


def _wait_for(found: Iterator[Path | None]) -> Path:
    """The first path that is found."""
    for _, path in zip(range(6000), found, strict=False):
        if path is not None:
            return path
        time.sleep(0.005)
    pytest.fail("it never came")


def _folder_in(out: Path) -> Iterator[Path | None]:
    while True:
        yield next(out.iterdir(), None) if out.exists() else None


def _file(path: Path) -> Iterator[Path | None]:
    while True:
        yield path if path.exists() else None


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT])
@pytest.mark.parametrize("early", [True, False], ids=["as the writer starts", "while it plays"])
def test_a_signal_to_the_whole_group_leaves_a_whole_take(
    tmp_path: Path, number: signal.Signals, *, early: bool
) -> None:
    """Whether its writer is only starting or at work, a demo that is told to stop leaves every file of its take."""
    out = tmp_path / "takes"
    with _demo(out) as demo:
        folder = _wait_for(_folder_in(out))
        # The writer's process is the first; the meter's begins once all is open.
        _wait_for(path if _helpers(demo.pid) else None for path in repeat(folder))
        if not early:
            _wait_for(_file(folder / "sound.wav"))
        os.killpg(demo.pid, number)
        said, trouble = demo.communicate(timeout=100)
    assert demo.returncode == 0, trouble
    assert "The take lies in" in said
    assert trouble == ""
    assert sorted(path.name for path in folder.iterdir()) == sorted(TABLES)
    with (folder / "notes.csv").open(newline="", encoding="utf-8") as file:
        assert next(csv.reader(file))[0] == "id"
    assert soundfile.info(folder / "sound.wav").samplerate == 48000


def test_ctrl_z_pauses_neither_the_performance_nor_its_helpers(tmp_path: Path) -> None:
    """SIGTSTP to the whole group, with no terminal to take the key from: all plays on, and writes."""
    out = tmp_path / "takes"
    with _demo(out) as demo:
        sound = _wait_for(_file(_wait_for(_folder_in(out)) / "sound.wav"))
        os.killpg(demo.pid, signal.SIGTSTP)
        size = sound.stat().st_size
        _wait_for(path if path.stat().st_size > size else None for path in repeat(sound))
        states = [(each / "stat").read_text().rpartition(")")[2].split()[0] for each in _helpers(demo.pid)]
        os.killpg(demo.pid, signal.SIGINT)
        _, trouble = demo.communicate(timeout=100)
    assert states
    assert "T" not in states
    assert (demo.returncode, trouble) == (0, "")


def test_a_writer_that_is_killed_is_told_and_the_status_is_1(tmp_path: Path) -> None:
    """The playing goes on, and at the end nobody claims that the take is whole."""
    out = tmp_path / "takes"
    with _demo(out) as demo:
        _wait_for(_file(_wait_for(_folder_in(out)) / "sound.wav"))
        os.kill(_writer_below(demo.pid), signal.SIGKILL)
        lines = []
        assert demo.stdout is not None
        for line in demo.stdout:
            lines.append(line)
            if "ended early" in line:
                os.killpg(demo.pid, signal.SIGINT)
        said, trouble = "".join(lines), demo.communicate(timeout=100)[1]
    assert demo.returncode == 1
    assert said.count("The take's writer ended early") == 1
    assert re.search(r"The take in .* stops after [\d.]+ s of [\d.]+ s: its writer was ended by signal 9\.", trouble)
    assert "The take lies in" not in said
    assert "performance.mid" not in said
    assert "Traceback" not in said + trouble


def test_a_disk_that_takes_no_more_costs_the_rest_of_the_take_and_nothing_else(tmp_path: Path) -> None:
    """The system's limit on the size of files stands for the disk: the loss is told once, what was written opens.

    At the end it is told again: after how many seconds of how many, and why.
    """
    out = tmp_path / "takes"
    with _demo(out, "--fast") as demo:
        folder = _wait_for(_folder_in(out))
        _wait_for(_file(folder / "sound.wav"))
        resource.prlimit(_writer_below(demo.pid), resource.RLIMIT_FSIZE, (FULL, FULL))
        said, trouble = demo.communicate(timeout=100)
    assert demo.returncode == 1
    # The system takes a part of a write without a word; only what follows it is told to be too large.
    why = "(?:No space left on device|File too large)"
    take = rf"The take in {re.escape(str(folder))}"
    assert len(re.findall(rf"{take} stops here: {why}\. The playing goes on", said)) == 1
    incomplete, recover = trouble.splitlines()
    stops = re.fullmatch(
        rf"{take} stops after ([\d.]+) s of ([\d.]+) s: {why}\. Some of its files are missing or short\.", incomplete
    )
    assert stops is not None
    assert recover == f"What can be made of it, given room on the disk, is made by: reedwire recover {folder}"
    heard_s = float(re.search(r"notes in ([\d.]+) s of music", said)[1])  # type: ignore[index]
    sound = soundfile.info(folder / "sound.wav")
    assert FULL / 3 - sound.samplerate <= sound.frames < 0.9 * heard_s * sound.samplerate
    # What had come to the writer by then, and could still be in its hands: half a second (takes.flush_s and a poll).
    # It is told in tenths of a second.
    assert -0.05 <= float(stops[1]) - sound.frames / sound.samplerate < 0.5
    assert float(stops[2]) == heard_s
    recover_take(folder, pytest.fail)
    notes = opened_take(folder, pytest.fail).notes
    assert abs(notes[-1].end_s - sound.frames / sound.samplerate) < 1.0
    assert sorted(path.name for path in folder.iterdir()) == sorted(TABLES)


def _helpers(parent: int) -> list[Path]:
    """The processes that multiprocessing started below ``parent``, as folders of /proc."""
    found = []
    for process in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            is_below = int((process / "stat").read_text().rpartition(")")[2].split()[1]) == parent
            if is_below and b"--multiprocessing-fork" in (process / "cmdline").read_bytes():
                found.append(process)
    return found


def _writer_below(parent: int) -> int:
    """Process id of the take's writer: the helper that has the sound file open."""
    for process in _helpers(parent):
        if any(handle.readlink().name == "sound.wav" for handle in (process / "fd").iterdir()):
            return int(process.name)
    pytest.fail("no writer")


def _begin(tmp_path: Path, said: list[str], *, patient: bool) -> TakeProcess:
    settings = load_settings()
    setup = TakeSetup(settings, harp_set(settings.harp), "test", new_take(tmp_path, "one"), 48000, os.getpid())
    return TakeProcess(setup, said.append, patient=patient)


class _Sound:
    """A source that gives nothing and counts how often it was asked."""

    def __init__(self, *, endless: bool) -> None:
        self.endless = endless
        self.reads = 0

    def read(self, timeout_s: float) -> AudioBlock:
        """Give nothing, when the time is over."""
        self.reads += 1
        time.sleep(timeout_s)
        return no_sound_yet(0, 48000)


@pytest.mark.parametrize("endless", [True, False])
def test_nothing_is_played_before_the_take_can_keep_it(tmp_path: Path, *, endless: bool) -> None:
    """All that grows is open then; a sound card is emptied meanwhile, of a file or a tune nothing is passed over."""
    said: list[str] = []
    writer = _begin(tmp_path, said, patient=False)
    sound = _Sound(endless=endless)
    writer.wait_until_open(cast("Source", sound))
    grown = {"take.yaml", "curve.csv", "journal.jsonl", "sound.wav"}
    assert {path.name for path in writer.folder.iterdir()} == grown
    assert (sound.reads > 0) == endless
    writer.finish()
    assert said == []


def test_a_writer_that_cannot_begin_is_not_waited_for(tmp_path: Path) -> None:
    """It says why, once, and the playing begins."""
    said: list[str] = []
    settings = load_settings()
    folder = TakeFolder(tmp_path / "gone")
    writer = TakeProcess(
        TakeSetup(settings, harp_set(settings.harp), "test", folder, 48000, os.getpid()), said.append, patient=False
    )
    writer.wait_until_open(cast("Source", _Sound(endless=True)))
    assert said == [f"The take in {folder.path} stops here: No such file or directory. The playing goes on."]
    writer.finish()
    assert not writer.complete
    assert writer.stopped == TakeStopped(0.0, "No such file or directory")
    assert len(said) == 1


def test_a_disk_that_fills_up_at_the_very_end_costs_only_what_is_made_then(tmp_path: Path) -> None:
    """All that was played is kept, which is told otherwise than a take that stops."""
    said: list[str] = []
    writer = _begin(tmp_path, said, patient=False)
    writer.wait_until_open(cast("Source", _Sound(endless=True)))
    writer.add_sound(AudioBlock(0, 48000, np.full(4800, 0.5, np.float32)))
    # In the way of a table: the file system takes no file there.
    (writer.folder / "notes.csv").mkdir()
    writer.finish()
    assert not writer.complete
    assert writer.stopped == TakeStopped(float("inf"), "Is a directory")
    assert said == [f"Not every file of the take in {writer.folder} could be written: Is a directory."]


def test_ten_seconds_of_sound_find_room_whatever_the_size_of_a_block(tmp_path: Path) -> None:
    """A disk that stands still for 9 s costs nothing: blocks of 128 samples and odd ones arrive as one sound."""
    said: list[str] = []
    writer = _begin(tmp_path, said, patient=False)
    (process,) = [child for child in active_children() if child.name == WRITER]
    assert process.pid is not None
    sound = np.random.default_rng(1).uniform(-0.5, 0.5, 9 * 48000).astype(np.float32)
    os.kill(process.pid, signal.SIGSTOP)
    try:
        start = 0
        while start < len(sound):
            count = 128 if start < 4 * 48000 else 1000
            writer.add_sound(AudioBlock(start, 48000, sound[start : start + count]))
            start += count
        assert writer.lost == 0
    finally:
        os.kill(process.pid, signal.SIGCONT)
        writer.finish()
    assert writer.complete
    assert said == []
    kept, _ = soundfile.read(writer.folder / "sound.wav", dtype="float32")
    np.testing.assert_allclose(kept, sound, atol=2.0**-23)


def test_a_gap_in_the_sound_stays_where_it_was(tmp_path: Path) -> None:
    """Samples that a sound card lost are silence in the take, so that the rest keeps its time."""
    writer = _begin(tmp_path, [], patient=True)
    ones = np.full(700, 0.5, np.float32)
    writer.add_sound(AudioBlock(0, 48000, ones))
    writer.add_sound(AudioBlock(1000, 48000, ones))
    writer.finish()
    writer.finish()
    kept, _ = soundfile.read(writer.folder / "sound.wav", dtype="float32")
    np.testing.assert_array_equal(kept, np.concatenate((ones, np.zeros(300, np.float32), ones)))
