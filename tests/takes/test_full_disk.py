"""A disk that is full for a while: what is derived at the end of a take misses nothing of what was played meanwhile."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, suppress
from pathlib import Path

import pytest

from bridge.base.errors import ClosedError
from bridge.base.events import Event
from bridge.base.writing import written_safely
from bridge.harp.harp import make_harp
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from bridge.takes.folder import TakeFolder, new_take
from bridge.takes.recovery import recover
from bridge.takes.settings import TakeSettings
from bridge.takes.take_yaml import TakeFacts
from bridge.takes.writer import TakeWriter
from full_disk import full_disk, open_files
from send.made_events import inflection, note_off, note_on, point

#: Frames of a note, and of how many notes each third of the take is: enough for several pieces on the disk.
FRAMES, NOTES = 100, 40
DERIVED = ("notes.csv", "inflections.csv", "performance.mid", "score.musicxml", "tab.txt")


def played(third: int) -> Iterator[Event]:
    """A third of the take: B4 with a bend and a breath that move in every frame."""
    for number in range(1 + NOTES * third, 1 + NOTES * (third + 1)):
        start_s = number * 0.5
        yield point(start_s, hz=493.88)
        yield note_on(start_s, number)
        for step in range(1, FRAMES):
            time_s, odd = start_s + 0.004 * step, step % 2
            yield point(time_s, hz=493.88)
            yield inflection(time_s, number, bend_cents=-40.0 * odd, breath=0.4 + 0.2 * odd)
        yield note_off(start_s + 0.4, number)


def writer(folder: TakeFolder, settings: TakeSettings | None = None) -> TakeWriter:
    """A live take of a C harp in cross position."""
    return TakeWriter(
        folder,
        TakeFacts("test", {"key": "C"}, {}),
        midi=MidiSettings(),
        pitch=SentPitch(),
        harp=make_harp("C", 2, 440.0),
        tab="signs",
        settings=settings or TakeSettings(),
        live=True,
    )


@pytest.mark.parametrize("most_bytes", [0, 100_000])
def test_a_disk_that_has_room_again_costs_nothing_of_what_is_derived(tmp_path: Path, most_bytes: int) -> None:
    """Tables, MIDI file, score and tab are those of a take that was never refused anything, byte by byte."""
    folders = new_take(tmp_path / "refused", "solo"), new_take(tmp_path / "never", "solo")
    for folder in folders:
        with writer(folder) as take:
            for third in range(3):
                if folder is folders[0] and third == 1:
                    with full_disk(most_bytes):
                        for event in played(third):
                            with suppress(OSError):
                                take.add(event)
                else:
                    for event in played(third):
                        with suppress(OSError):
                            take.add(event)
    for name in DERIVED:
        got, expected = ((folder.path / name).read_bytes() for folder in folders)
        assert got == expected
    assert (folders[0].path / "notes.csv").read_bytes().count(b"\n") == 1 + 3 * NOTES


def test_a_disk_that_stays_full_leaves_no_file_open_and_nothing_half(tmp_path: Path) -> None:
    """The error comes out, files that could not be written whole are not there, and all that was open is closed."""
    handles = open_files()
    folder = new_take(tmp_path, "solo")
    take = writer(folder)
    for event in played(0):
        take.add(event)
    assert open_files() > handles
    with full_disk(0), pytest.raises(OSError, match="File too large"):
        take.finish()
    assert open_files() == handles
    appended = {"take.yaml", "curve.csv", "journal.jsonl", "sound.wav"}
    assert {path.name for path in folder.path.iterdir()} == appended | {"played"}
    assert list(folder.played.path.iterdir()) == []


def test_a_disk_with_room_for_the_files_alone_gets_all_of_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What they are made from waits on the same disk, and gives way; here it is full as long as that is there."""
    folder, plain = new_take(tmp_path, "solo"), new_take(tmp_path / "plain", "solo")
    with writer(plain) as take:
        for event in played(0):
            take.add(event)
    handles = open_files()
    take = writer(folder)
    for event in played(0):
        take.add(event)
    appended = 4  # The curve, the journal, the sound and the folder, which is held.
    assert open_files() > handles + appended
    monkeypatch.setattr("bridge.base.writing.written_safely", _crowded(handles + 1))  # The folder is held.
    take.finish()
    for name in DERIVED:
        assert (folder.path / name).read_bytes() == (plain.path / name).read_bytes()


def test_a_take_is_recovered_on_such_a_disk_as_well(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """All of its files are those of the take that came to its end, and the tempo that it has settled on is told."""
    folder, plain = new_take(tmp_path, "solo"), new_take(tmp_path / "plain", "solo")
    settings, harp = TakeSettings(tempo="auto"), make_harp("C", 2, 440.0)
    with writer(folder, settings) as stopped, writer(plain, settings) as take:
        for event in played(0):
            stopped.add(event)
            take.add(event)
        stopped.give_up()
    monkeypatch.setattr("bridge.base.writing.written_safely", _crowded(open_files()))
    done = recover(
        folder,
        midi=MidiSettings(),
        pitch=SentPitch(),
        harp=harp,
        tab="signs",
        program=settings.midi_program,
        tolerance=settings.breakpoint_tolerance,
        harp_of=lambda _facts: harp,
        tempo_settings=settings,
    )
    assert {*DERIVED, "take.yaml"} <= {*done.made}
    for name in DERIVED:
        assert (folder.path / name).read_bytes() == (plain.path / name).read_bytes()


def _crowded(most: int) -> Callable[[Path], AbstractContextManager[Path]]:
    """Files on a disk that is full as long as more than so many files are open."""

    def crowded(path: Path) -> AbstractContextManager[Path]:
        if open_files() > most:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return written_safely(path)

    return crowded


def test_a_take_that_is_given_up_derives_nothing_and_leaves_no_file_open(tmp_path: Path) -> None:
    """What was appended is there; from then on it is finished."""
    handles = open_files()
    folder = new_take(tmp_path, "solo")
    with writer(folder) as take:
        for event in played(0):
            take.add(event)
        take.give_up()
        take.give_up()
        assert open_files() == handles
        with pytest.raises(ClosedError):
            take.add(point(99.0))
    assert {path.name for path in folder.path.iterdir()} == {"take.yaml", "curve.csv", "journal.jsonl", "sound.wav"}
