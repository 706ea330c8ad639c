"""The sound card's process: its sound arrives in place, and another process takes over when it dies or hangs."""

from __future__ import annotations

import time
from multiprocessing import active_children

import numpy as np
import pytest

from bridge.base.errors import UserError
from bridge.base.events import AudioBlock
from bridge.capture.settings import CaptureSettings
from bridge.wiring import card as card_module
from bridge.wiring.card import Card
from bridge.wiring.card_process import HoldCard
from wiring import fake_cards
from wiring.fake_cards import BLOCK

_PATIENCE_S = 60.0
_SETTINGS = CaptureSettings(rate_hz=48000)


def read_until(card: Card, count: int) -> list[AudioBlock]:
    """Blocks with sound in them, until so many samples have come."""
    until, blocks = time.monotonic() + _PATIENCE_S, list[AudioBlock]()
    while sum(len(block.samples) for block in blocks) < count:
        assert time.monotonic() < until, "the sound never came"
        block = card.read(0.05)
        assert block is not None
        if len(block.samples):
            blocks.append(block)
    return blocks


def test_sound_arrives_in_its_place() -> None:
    """Every sample of the process comes once, in order, at its index; closing leaves no process."""
    with Card(_SETTINGS, hold=fake_cards.counts_up) as card:
        assert (card.name, card.rate) == ("Test card", 48000)
        blocks = read_until(card, 10 * BLOCK)
    assert np.concatenate([block.samples for block in blocks]).tolist() == list(range(10 * BLOCK))
    assert all(block.start == block.samples[0] for block in blocks)
    assert not [child for child in active_children() if child.name == "reedwire-card"]


def test_what_is_no_number_becomes_silence() -> None:
    """NaN and infinity are 0 and counted."""
    with Card(_SETTINGS, hold=fake_cards.gives_nonsense) as card:
        samples = read_until(card, BLOCK)[0].samples
        assert card.repaired == 2
    assert np.flatnonzero(samples == 0.0).tolist() == [3, 5]


def test_a_refusal_is_told_as_it_was_said() -> None:
    """The words come from the process."""
    with pytest.raises(UserError, match=r"^No such card\. Connect one\.$"):
        Card(_SETTINGS, hold=fake_cards.refuses).open()


def test_a_card_that_never_answers_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Not waited for without end, and no process is left."""
    monkeypatch.setattr(card_module, "_FIRST_S", 0.2)
    with pytest.raises(UserError, match="does not answer"):
        Card(_SETTINGS, hold=fake_cards.says_nothing).open()
    assert not [child for child in active_children() if child.name == "reedwire-card"]


@pytest.mark.parametrize("hold", [fake_cards.dies, fake_cards.stops_calling])
def test_another_process_takes_over(hold: HoldCard, monkeypatch: pytest.MonkeyPatch) -> None:
    """One that died or hangs is told and replaced; the stream goes on later, never earlier."""
    monkeypatch.setattr(card_module, "_SILENT_S", 0.3)
    monkeypatch.setattr(card_module, "_RETRY_S", 0.1)
    told: list[str] = []
    with Card(_SETTINGS, told.append, hold=hold) as card:
        first, second = read_until(card, 2 * BLOCK)[:2]
        assert card.replaced == 1
    assert told[:2] == ["The sound input Test card stopped. Trying again ...", "The sound input is back."]
    assert second.start > first.start + BLOCK
    assert not [child for child in active_children() if child.name == "reedwire-card"]


def test_another_rate_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """A performance cannot change its rate: the player is told."""
    monkeypatch.setattr(card_module, "_RETRY_S", 0.1)
    with (
        Card(_SETTINGS, hold=fake_cards.comes_back_otherwise) as card,
        pytest.raises(UserError, match="came back at 44100 samples a second"),
    ):
        read_until(card, 2 * BLOCK)
