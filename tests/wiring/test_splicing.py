"""Cutting and joining takes with their sound: sample for sample, and all that tells of a time moves along."""

from __future__ import annotations

import resource
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

from bridge.base.errors import UserError
from bridge.takes.edited import Tempo
from bridge.takes.facts_spliced import cut_tempo
from bridge.takes.tempo import tempo_facts
from bridge.wiring.edited_take import write_edited
from bridge.wiring.editing import Edit
from bridge.wiring.opening import OpenedTake, opened_take
from bridge.wiring.played_notes import played_notes
from bridge.wiring.splicing import edit_cut, edit_join, take_length_s
from wiring.made_takes import PHRASE, RATE, content, make_take, stored


def written(edit: Edit, parent: Path, name: str) -> OpenedTake:
    """The new take, opened as any other."""
    return opened_take(write_edited(edit, parent, name).path, lambda _: None)


def document(take: OpenedTake) -> dict[str, Any]:
    """Its take.yaml, read with nothing of the project."""
    plain: dict[str, Any] = yaml.safe_load(take.folder.description.read_text(encoding="utf-8"))
    return plain


@pytest.mark.parametrize("at_s", [0.1, 0.7, 1.23457, 2.55, 3.9])
@pytest.mark.parametrize("rate", [48_000, 44_100])
def test_the_halves_of_a_cut_joined_are_the_take(tmp_path: Path, at_s: float, rate: int) -> None:
    """In a rest and inside a note, at a time that is on no sample: tables byte for byte, sound sample for sample."""
    take = make_take(tmp_path / "phrase", rate=rate)
    first = written(edit_cut(take, 0.0, at_s), tmp_path, "first")
    second = written(edit_cut(take, at_s, None), tmp_path, "second")
    whole = written(edit_join([first, second], 0.0), tmp_path, "whole")
    for table in ("notes.csv", "inflections.csv"):
        assert content(whole.folder.path)[table] == content(take.folder.path)[table]
    np.testing.assert_array_equal(stored(whole.folder.sound), stored(take.folder.sound))
    assert played_notes(whole) == PHRASE


def test_a_cut_has_the_samples_of_its_time(tmp_path: Path) -> None:
    """From 1 s to 2.5 s: samples 48,000 to 120,000, in 24 bits as before; notes count from there."""
    take = make_take(tmp_path / "phrase")
    part = written(edit_cut(take, 1.0, 2.5), tmp_path, "part")
    np.testing.assert_array_equal(stored(part.folder.sound), stored(take.folder.sound)[48_000:120_000])
    assert [(note.id, note.start_s) for note in part.notes] == [(2, 0.0), (3, 1.1)]
    assert take_length_s(part) == 1.5


def test_between_joined_takes_there_is_silence_as_long_as_the_gap(tmp_path: Path) -> None:
    """Half a second of nothing, then the second take from its first sample on."""
    one, two = make_take(tmp_path / "one"), make_take(tmp_path / "two", sound_s=5.0)
    both = written(edit_join([one, two], 0.5), tmp_path, "both")
    samples = stored(both.folder.sound)
    gap = samples[4 * RATE : 4 * RATE + RATE // 2]
    assert len(samples) == 9 * RATE + RATE // 2
    assert not gap.any()
    np.testing.assert_array_equal(samples[4 * RATE + RATE // 2 :], stored(two.folder.sound))
    assert [note.id for note in both.notes] == list(range(1, 9))
    assert both.notes[4].start_s == pytest.approx(4.5 + PHRASE[0].start_s)


def test_what_tells_of_a_time_moves_along(tmp_path: Path) -> None:
    """Changes of harp, what was left out, bars: in a cut counted from it, in a join from where each take begins."""
    other = {"key": "A", "position": 2, "a4_hz": 442.0, "layout": "richter", "temperament": "equal"}
    take = make_take(
        tmp_path / "phrase",
        harp_changes=[{"time_s": 2.05, **other}],
        left_out=[{"start_s": 0.0, "end_s": 0.2, "what": "talk"}, {"start_s": 3.85, "end_s": 4.0, "what": "talk"}],
        tempo=tempo_facts(Tempo(120.0, 0.25), "tap"),
    )
    part = written(edit_cut(take, 1.0, 3.9), tmp_path, "part")
    said = document(part)
    assert [(harp.since_s, harp.harp.key if harp.harp else None) for harp in part.harps] == [(0.0, "C"), (1.05, "A")]
    assert said["left_out"] == [{"start_s": 2.85, "end_s": 2.9, "what": "talk"}]
    # Bars begin at 0.25 and 2.25: the one that is begun at 1 s, 0.75 s into it, is bar 1.
    assert part.tempo == Tempo(120.0, -0.75)
    assert said["tempo"]["known_from"] == "tap"
    late = written(edit_cut(take, 2.5, None), tmp_path, "late")
    assert [harp.harp.key if harp.harp else None for harp in late.harps] == ["A"]
    both = written(edit_join([part, late], 0.1), tmp_path, "both")
    assert [(harp.since_s, harp.harp.key if harp.harp else None) for harp in both.harps] == [(0.0, "C"), (1.05, "A")]
    again = written(edit_join([late, part], 0.1), tmp_path, "again")
    assert [(harp.since_s, harp.harp.key if harp.harp else None) for harp in again.harps] == [
        (0.0, "A"),
        (1.6, "C"),
        (2.65, "A"),
    ]
    assert document(again)["left_out"] == [
        {"start_s": 1.35, "end_s": 1.5, "what": "talk"},
        {"start_s": 4.45, "end_s": 4.5, "what": "talk"},
    ]


@pytest.mark.parametrize(("bar_1_s", "wanted_s"), [(3.0, 2.0), (1.0, 0.0), (0.0, -1.0), (-1.0, 0.0), (-0.5, -1.5)])
def test_a_bar_that_is_begun_at_the_cut_is_bar_1(bar_1_s: float, wanted_s: float) -> None:
    """Bars of two seconds, cut at 1 s; a bar 1 that is still to come stays bar 1."""
    assert cut_tempo(Tempo(120.0, bar_1_s), 1.0).bar_1_s == pytest.approx(wanted_s)


def test_a_take_without_sound_is_cut_and_joined_all_the_same(tmp_path: Path) -> None:
    """A join of which one has none has none, and says so; its length is remembered without a sound."""
    silent, heard = make_take(tmp_path / "silent", sound_s=None), make_take(tmp_path / "heard")
    edit = edit_join([heard, silent], 0.0)
    assert edit.sound is None
    assert "no sound" in edit.told[0]
    assert str(tmp_path / "silent") in edit.told[0]
    first = written(edit_cut(silent, 0.0, 0.7), tmp_path, "first")
    second = written(edit_cut(silent, 0.7, None), tmp_path, "second")
    assert take_length_s(first) == 0.7
    whole = written(edit_join([first, second], 0.0), tmp_path, "whole")
    assert whole.notes == silent.notes


def test_what_cannot_be_joined_or_cut_is_refused(tmp_path: Path) -> None:
    """With the takes, what was found and what is allowed."""
    one, other = make_take(tmp_path / "one"), make_take(tmp_path / "other", rate=44_100)
    with pytest.raises(UserError, match=r"44100 Hz.*48000"):
        edit_join([one, other], 0.0)
    with pytest.raises(UserError, match="at least two"):
        edit_join([one], 0.0)
    with pytest.raises(UserError, match=r"--gap: found -1, allowed: 0 to 3600"):
        edit_join([one, one], -1.0)
    with pytest.raises(UserError, match=r"from 9 to 4 s: it is 4\.0 s long"):
        edit_cut(one, 9.0, None)


def test_what_a_hand_has_spoilt_in_left_out_is_passed_over(tmp_path: Path) -> None:
    """In take.yaml, beside a span that is whole."""
    take = make_take(tmp_path / "whole", left_out=[{"start_s": 1.0, "end_s": 2.0, "what": "talk"}])
    text = take.folder.description.read_text(encoding="utf-8")
    take.folder.description.write_text(text.replace("left_out:\n", "left_out:\n- 3\n", 1), encoding="utf-8")
    part = written(edit_cut(take, 0.5, 3.0), tmp_path, "part")
    assert document(part)["left_out"] == [{"start_s": 0.5, "end_s": 1.5, "what": "talk"}]


_ON_A_FULL_DISK = """
import resource, sys
from pathlib import Path
from bridge.takes.sound_parts import SoundPart, write_parts
resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
try:
    write_parts([SoundPart(Path(sys.argv[1]), 10)], Path(sys.argv[2]))
except OSError as error:
    print(error.strerror)
"""


def test_a_disk_that_is_full_is_told_in_one_line(tmp_path: Path) -> None:
    """A process that may write no more than 100 kB to a file: nothing else on standard error."""
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[1] == resource.RLIM_INFINITY
    sound = make_take(tmp_path / "whole").folder.sound
    command = [sys.executable, "-c", _ON_A_FULL_DISK, str(sound), str(tmp_path / "part.wav")]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=100)
    assert (done.stdout, done.stderr) == ("No space left on device\n", "")
