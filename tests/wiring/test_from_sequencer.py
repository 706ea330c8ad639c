"""A take's MIDI file as a sequencer has saved it: what that left out, and what it must not undo."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.base.errors import UserError
from bridge.wiring.rebuilding import rebuild_take
from takes.sequencer import transposed, without
from wiring.made_takes import content, make_take

#: Select, data entry and so the range of bends (MIDI 1.0, 4.2.1).
RANGE_CONTROLLERS = {100, 101, 6, 38}


@pytest.fixture
def take(tmp_path: Path) -> Path:
    """The made-up phrase, played with a bend range of an octave, and rebuilt."""
    path = tmp_path / "phrase"
    make_take(path, sound_s=None)
    description = path / "take.yaml"
    text = description.read_text(encoding="utf-8")
    assert text.count(" bend_range: 2") == 1
    description.write_text(text.replace(" bend_range: 2", " bend_range: 12"), encoding="utf-8")
    rebuild_take(path, pytest.fail)
    return path


def without_range(data: bytes) -> bytes:
    """What a sequencer writes that takes the bend range for its own affair."""
    return without(data, lambda _, message: message.type == "control_change" and message.control in RANGE_CONTROLLERS)


@pytest.mark.parametrize("mpe", [False, True])
@pytest.mark.parametrize("own", [False, True])
def test_a_file_without_a_bend_range_has_that_of_the_take(take: Path, tmp_path: Path, own: bool, mpe: bool) -> None:
    """Said in one line; else all bends would be a sixth. Also when it is the take's own file that lost it."""
    rebuild_take(take, pytest.fail, mpe=mpe)
    before = content(take)
    played = take / "performance.mid"
    file = played if own else tmp_path / "saved.mid"
    file.write_bytes(without_range(played.read_bytes()))
    told: list[str] = []
    done = rebuild_take(take, told.append, from_midi=file, mpe=mpe)
    assert done.taken is not None
    assert done.taken.edited == frozenset()
    semitones = 48 if mpe else 12
    assert told == [f"{file} says no bend range (RPN 0), so that of the take was taken: {semitones} semitones."]
    assert {name: data for name, data in content(take).items() if name in before} == before


def test_tables_edited_since_are_not_undone(take: Path) -> None:
    """What was edited by hand is in no MIDI file: told, and nothing is written; once rebuilt, it may be taken back."""
    table, midi = take / "inflections.csv", take / "performance.mid"
    midi.write_bytes(transposed(midi.read_bytes(), 5))
    as_made = table.read_text(encoding="utf-8")
    table.write_text(as_made.replace("-95.50", "-60.00", 1), encoding="utf-8")
    before = content(take)
    with pytest.raises(UserError, match=r"edited after performance\.mid was made .* Either run reedwire rebuild"):
        rebuild_take(take, pytest.fail, from_midi=midi)
    assert content(take) == before
    rebuild_take(take, pytest.fail)
    midi.write_bytes(transposed(midi.read_bytes(), 5))
    rebuild_take(take, pytest.fail, from_midi=midi)
    assert "-60.00" in table.read_text(encoding="utf-8")
