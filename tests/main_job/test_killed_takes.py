"""A live take is killed at fifty random moments, all its processes at once: what may be lost, and that it opens.

The witness of what had been played is what was sent by OSC until the kill. At most half a second of sound and no note
that had ended may be missing: bounds of the project's own.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import soundfile

from bridge.takes.edited import EditedNote
from bridge.wiring.opening import opened_take

KILLS = 50
SEED = 7
MOST_SOUND_S = 0.5
#: Of the end of a note may be missing what the writer had not fetched yet, which is more on a busy machine.
MOST_NOTE_S = 0.5
#: Times by OSC are in milliseconds.
ROUNDED_S = 0.002


@dataclass(frozen=True)
class Killed:
    """What was left of one take: against what had been sent until ``played_s``, when it was killed."""

    played_s: float
    finished: int
    lost_notes: int
    lost_sound_s: float
    lost_length_s: float


def compared(folder: Path, heard: list[tuple[str, list[Any]]]) -> Killed:
    """Open the take in ``folder`` as every command does, and compare it with what was heard of it."""
    (take,) = folder.iterdir()
    kept = {note.id: note for note in opened_take(take, lambda _: None).notes}
    sound = soundfile.info(take / "sound.wav")
    played_s = max(arguments[0] for address, arguments in heard if address == "/reedwire/pitch") / 1000.0
    begun = {arguments[1]: arguments for address, arguments in heard if address == "/reedwire/on"}
    ended_s = {arguments[1]: arguments[0] / 1000.0 for address, arguments in heard if address == "/reedwire/off"}
    lost = [note_id for note_id in ended_s if not is_kept(begun[note_id], kept.get(note_id))]
    shorter_s = [end_s - kept[note_id].end_s for note_id, end_s in ended_s.items() if note_id not in lost]
    lost_sound_s = played_s - sound.frames / sound.samplerate
    return Killed(played_s, len(ended_s), len(lost), lost_sound_s, max(shorter_s, default=0.0))


def is_kept(begun: list[Any], note: EditedNote | None) -> bool:
    """Whether the table has the note that was begun, at its time and of its number."""
    return note is not None and note.midi_note == begun[2] and abs(note.start_s - begun[0] / 1000.0) <= ROUNDED_S


@pytest.mark.timeout(400)
def test_fifty_kills_cost_no_finished_note_and_half_a_second_of_sound(
    tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    """Whatever moment it is, from the first on; each take opens by itself and another library reads its sound."""
    command = [sys.executable, "-m", "main_job.live_host", str(tmp_path), str(SEED), str(KILLS)]
    host = subprocess.run(command, stdout=subprocess.PIPE, text=True, timeout=350, check=True)
    lines = [json.loads(line) for line in host.stdout.splitlines() if line.startswith("{")]
    killed = [compared(Path(line["folder"]), line["heard"]) for line in lines]
    assert len(killed) == KILLS
    finished = sum(one.finished for one in killed)
    most_s, shortest_s = max(one.lost_sound_s for one in killed), max(one.lost_length_s for one in killed)
    record_property("most sound lost, s", round(most_s, 3))
    record_property("most of the end of a finished note lost, s", round(shortest_s, 3))
    record_property("finished notes, and lost", (finished, sum(one.lost_notes for one in killed)))
    assert finished > KILLS
    assert [one for one in killed if one.lost_notes] == []
    assert most_s <= MOST_SOUND_S, sorted(killed, key=lambda one: one.lost_sound_s)[-3:]
    assert shortest_s <= MOST_NOTE_S, sorted(killed, key=lambda one: one.lost_length_s)[-3:]
