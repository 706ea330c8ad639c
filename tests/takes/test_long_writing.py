"""What a long take needs in memory while it is written: nothing for its frames, a few bytes a note.

The memory is what Python and numpy have asked for (tracemalloc), at its highest.
"""

from __future__ import annotations

import tracemalloc
from pathlib import Path

from bridge.harp.harp import make_harp
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from bridge.takes.folder import TakeFolder
from bridge.takes.settings import TakeSettings
from bridge.takes.take_yaml import TakeFacts
from bridge.takes.writer import TakeWriter
from send.made_events import inflection, note_off, note_on

#: Each half of the take lasts so long; it has a note of so many frames in each so many seconds.
HALF_S, FRAMES, ROUND_S = 30.0, 175, 0.8
#: Breakpoints of it, at least; and how many bytes more its second half may need: a seventh of what it adds.
ROWS, MORE_BYTES = 10_000, 35_000


def play(take: TakeWriter, begin_s: float) -> None:
    """Half of the take: bend and breath go to and fro in every frame, so that each of them is a breakpoint."""
    for number in range(round(begin_s / ROUND_S), round((begin_s + HALF_S) / ROUND_S)):
        start_s, note_id = number * ROUND_S, number + 1
        take.add(note_on(start_s, note_id))
        for step in range(1, FRAMES):
            odd = step % 2
            take.add(inflection(start_s + 0.004 * step, note_id, bend_cents=50.0 * odd, breath=0.4 + 0.2 * odd))
        take.add(note_off(start_s + 0.004 * FRAMES, note_id))


def test_a_take_that_is_written_grows_by_a_few_bytes_a_note(tmp_path: Path) -> None:
    """Once the first pieces are on the disk, the second half of a minute needs no more than the first but for its rows.

    Its MIDI messages, 14 bytes a frame, and a breakpoint of 25 for each frame would be a quarter of a megabyte.
    """
    with TakeWriter(
        TakeFolder(tmp_path),
        TakeFacts("test", {"key": "C"}, {}),
        midi=MidiSettings(),
        pitch=SentPitch(),
        harp=make_harp("C", 2, 440.0),
        tab="signs",
        settings=TakeSettings(),
    ) as take:
        tracemalloc.start()
        try:
            play(take, 0.0)
            first = tracemalloc.get_traced_memory()[1]
            tracemalloc.reset_peak()
            play(take, HALF_S)
            second = tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()
    assert (tmp_path / "inflections.csv").read_bytes().count(b"\n") > ROWS
    assert second - first < MORE_BYTES
