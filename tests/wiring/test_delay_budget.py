"""The lines of the delay, and the bytes of a note that begins.

Source: MIDI 1.0 Detailed Specification 4.2.1: a note off, a bend, a controller and a note on are three bytes each,
channel pressure two; a five-pin cable carries 31,250 baud with ten bits a byte. MPE 1.1: breath as pressure.
"""

from __future__ import annotations

import pytest

from bridge.follow.played import FollowedNote
from bridge.send.midi_settings import MidiSettings
from bridge.wiring.delay_budget import DelayBudget, delay_budget, note_bytes
from bridge.wiring.harps import harp_in_hand
from bridge.wiring.settings import load_settings


@pytest.mark.parametrize(
    ("sets", "size"),
    [
        ([], 7 * 3),
        (["send.midi.mode=mpe"], 6 * 3 + 2),
        (["send.midi.fourteen_bit=true"], 7 * 3 + 3 * 3),
        (["send.midi.blueness=null", "send.midi.lean=null"], 5 * 3),
    ],
    ids=["as it is", "mpe", "14 bits", "without the third"],
)
def test_a_note_takes_these_bytes(sets: list[str], size: int) -> None:
    """Note off of the last, bend, four values and note on; brightness (74) has no fine half."""
    assert note_bytes(load_settings(sets=sets).send.midi) == size


def test_the_sum_is_that_of_its_lines() -> None:
    """Block, follower, worker, and MIDI by USB; by a cable 320 us a byte."""
    budget = DelayBudget(0.003, 0.002, (FollowedNote(60, 0.004),), measured=True, begins_s=0.012, midi_bytes=21)
    assert budget.sum_s(0.004) == pytest.approx(0.003 + 0.004 + 0.002 + 0.001)
    assert budget.cable_s == pytest.approx(21 * 320e-6)


@pytest.mark.parametrize(
    ("key", "lowest", "delay_s"),
    [("C", 60, 2.6 / 261.63 / 2), ("low-F", 53, 2.6 / 174.61 / 2), ("high-G", 67, 2.6 / 392.0 / 2)],
)
def test_without_a_player_it_is_that_of_the_harp(key: str, lowest: int, delay_s: float) -> None:
    """Its lowest reed (equal: 261.63, 174.61, 392.00 Hz) and a middle one, from the window that is set."""
    settings = load_settings(sets=[f"harp.key={key}"])
    harp = harp_in_hand(settings.harp)
    budget = delay_budget(settings, harp, 48000, block_s=0.003, worker_s=0.0, played=None)
    assert not budget.measured
    assert budget.notes[0].midi == lowest
    assert budget.notes[0].delay_s == pytest.approx(delay_s, rel=1e-4)
    assert budget.notes[1].midi > lowest
    assert budget.begins_s == 0.0


def test_where_there_is_no_midi_nothing_is_assumed_of_it() -> None:
    """Neither bytes nor a line."""
    settings = load_settings(sets=["send.midi.port=none"])
    harp = harp_in_hand(settings.harp)
    budget = delay_budget(settings, harp, 48000, block_s=0.003, worker_s=0.0, played=None)
    assert budget.midi_bytes == 0
    assert budget.sum_s(0.0) == pytest.approx(0.003)
    assert note_bytes(MidiSettings()) > 0


def test_a_steady_delay_is_the_least_of_all() -> None:
    """What is sure sooner is held back to 30 ms, also without a player."""
    settings = load_settings(sets=["quantise.steady_delay=true"])
    harp = harp_in_hand(settings.harp)
    budget = delay_budget(settings, harp, 48000, block_s=0.003, worker_s=0.0, played=None)
    assert budget.held
    assert [note.delay_s for note in budget.notes] == [0.03, 0.03]
    assert budget.begins_s == 0.03
