"""A live take is killed at fifty random moments, all its processes at once: what may be lost, and that it opens.

The witnesses of what had been played are the samples that the engine had dealt with and the OSC it had sent. At most
half a second of sound and no note that had ended may be missing: bounds of the project's own. They are counted back
from the kill, by when the engine had the sound: a machine so busy that it plays late has not lost what it had not yet
played.
"""

from __future__ import annotations

import json
import os
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
from main_job.live_host import RATE, Told

KILLS = 50
SEED = 7
#: Times by OSC are in milliseconds.
ROUNDED_S = 0.002


@dataclass(frozen=True)
class Killed:
    """What was left of one take.

    ``finished`` counts the notes that had ended, ``lost`` those of them that are not in its table. ``lost_s`` is all
    the sound that is missing, ``overdue_s`` what is missing of that which was due; ``shortened_s`` the same of the end
    of a finished note.
    """

    finished: int
    lost: int
    lost_s: float
    overdue_s: float
    shortened_s: float


def compared(told: Told) -> Killed:
    """Open the take as every command does, and compare it with what was known of it."""
    (take,) = Path(told.folder).iterdir()
    kept = {note.id: note for note in opened_take(take, lambda _: None).notes}
    sound = soundfile.info(take / "sound.wav")
    assert sound.samplerate == RATE
    kept_s = sound.frames / RATE
    begun = {arguments[1]: arguments for address, arguments in told.heard if address == "/reedwire/on"}
    ended_s = {arguments[1]: arguments[0] / 1000.0 for address, arguments in told.heard if address == "/reedwire/off"}
    # A machine that stood still may play a whole note in its last moment.
    finished = [note_id for note_id in ended_s if begun[note_id][0] / 1000.0 <= told.note_due_s]
    lost = [note_id for note_id in finished if not is_kept(begun[note_id], kept.get(note_id))]
    shortened_s = [
        min(ended_s[note_id], told.sound_due_s) - kept[note_id].end_s for note_id in finished if note_id not in lost
    ]
    return Killed(
        finished=len(finished),
        lost=len(lost),
        lost_s=told.handed_s - kept_s,
        overdue_s=told.sound_due_s - kept_s,
        shortened_s=max(shortened_s, default=0.0),
    )


def is_kept(begun: list[Any], note: EditedNote | None) -> bool:
    """Whether the table has the note that was begun, at its time and of its number."""
    return note is not None and note.midi_note == begun[2] and abs(note.start_s - begun[0] / 1000.0) <= ROUNDED_S


@pytest.mark.timeout(400)
def test_fifty_kills_cost_no_finished_note_and_half_a_second_of_sound(
    tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    """Whatever moment it is, from the first on; each take opens by itself and another library reads its sound."""
    # By a word and not by its name: the processes that it starts would load all of it once more.
    words = ["-c", "from main_job.live_host import main; main()", str(tmp_path), str(SEED), str(KILLS)]
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    host = subprocess.run([sys.executable, *words], env=env, stdout=subprocess.PIPE, text=True, timeout=350, check=True)
    killed = [compared(Told(**json.loads(line))) for line in host.stdout.splitlines()]
    assert len(killed) == KILLS
    finished = sum(one.finished for one in killed)
    record_property("most sound lost, s", round(max(one.lost_s for one in killed), 3))
    record_property("most of it before it was due, s", round(max(one.overdue_s for one in killed), 3))
    record_property("finished notes, and lost", (finished, sum(one.lost for one in killed)))
    assert finished > KILLS
    assert [one for one in killed if one.lost] == []
    assert [one for one in killed if one.overdue_s > 0.0] == []
    assert [one for one in killed if one.shortened_s > ROUNDED_S] == []
