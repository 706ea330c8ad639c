"""The breath of a take's MIDI file: on what the settings say, and taken back from there."""

from __future__ import annotations

from pathlib import Path

import mido
import pytest

from bridge.wiring.opening import opened_take
from bridge.wiring.rebuilding import rebuild_take
from takes.sequencer import placed, saved
from wiring.made_takes import make_take

#: A value of the file, as Mido has it: the message, and its number where it has one.
_PRESSURE, _EXPRESSION = ("aftertouch", None), ("control_change", 11)
_BREATH_CONTROLLER = ("control_change", 2)
#: What stands in a take of the default settings.
USUAL = {"mode": "single", "breath": "11", "mpe_breath": "pressure"}


def carries(message: mido.Message, carrier: tuple[str, int | None]) -> bool:
    """Whether it is one of those values."""
    kind, number = carrier
    return message.type == kind and (number is None or message.control == number)


@pytest.mark.parametrize(
    ("settings", "mpe", "carrier"),
    [
        ({}, False, _EXPRESSION),
        ({}, True, _PRESSURE),
        ({"breath": "2"}, False, _BREATH_CONTROLLER),
        ({"breath": "pressure"}, False, _PRESSURE),
        ({"breath": "pressure"}, True, _PRESSURE),
        ({"breath": "2", "mpe_breath": "controller"}, True, _BREATH_CONTROLLER),
        # Played in a zone, with the breath as pressure: on one channel a file has the controller.
        ({"mode": "mpe"}, False, _EXPRESSION),
    ],
)
def test_the_breath_is_written_there_and_taken_back(
    tmp_path: Path, settings: dict[str, str], mpe: bool, carrier: tuple[str, int | None]
) -> None:
    """The file has its breath there alone; what a sequencer makes of it, the half of each, comes back."""
    take = tmp_path / "phrase"
    make_take(take, sound_s=None)
    description = take / "take.yaml"
    text = description.read_text(encoding="utf-8")
    for key, value in settings.items():
        assert text.count(f"\n      {key}: {USUAL[key]}\n") == 1
        text = text.replace(f"\n      {key}: {USUAL[key]}\n", f"\n      {key}: {value}\n")
    description.write_text(text, encoding="utf-8")
    rebuild_take(take, pytest.fail, mpe=mpe)
    before = [point.breath for note in opened_take(take, pytest.fail).notes for point in note.points]
    messages = placed((take / "performance.mid").read_bytes())
    for other in (_PRESSURE, _EXPRESSION, _BREATH_CONTROLLER):
        assert any(carries(message, other) for _, message in messages) is (other == carrier)
    halved = [
        (tick, message.copy(value=message.value // 2) if carries(message, carrier) else message)
        for tick, message in messages
    ]
    edited = tmp_path / "edited.mid"
    edited.write_bytes(saved(halved))
    rebuild_take(take, list[str]().append, from_midi=edited, mpe=mpe)
    after = [point.breath for note in opened_take(take, pytest.fail).notes for point in note.points]
    assert max(before) > 0.5
    assert max(after) == pytest.approx(0.5 * max(before), abs=1 / 127)
