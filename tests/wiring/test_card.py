"""The sound card's process: its sound arrives in place, and another process takes over when it dies or hangs."""

from __future__ import annotations

import errno
import logging
import time
from collections.abc import Callable, Iterator
from ctypes import c_int
from functools import partial
from itertools import pairwise
from multiprocessing import active_children
from multiprocessing.sharedctypes import RawValue

import numpy as np
import pytest

from bridge.base.errors import UserError
from bridge.base.events import AudioBlock
from bridge.capture.settings import CaptureSettings
from bridge.wiring import card as card_module
from bridge.wiring.card import Card
from bridge.wiring.card_process import HoldCard
from bridge.wiring.log_file import LOG
from bridge.wiring.steady import StopRequest
from wiring import fake_cards
from wiring.fake_cards import BLOCK
from wiring.stand_ins import Ear, run

_PATIENCE_S = 60.0
_SETTINGS = CaptureSettings(rate_hz=48000)
Turns = Callable[..., tuple[HoldCard, c_int]]


@pytest.fixture
def turns(monkeypatch: pytest.MonkeyPatch) -> Turns:
    """Makes processes that do one thing each in turn, with their count; one that fails is given up soon."""
    monkeypatch.setattr(card_module, "_SILENT_S", 0.3)
    monkeypatch.setattr(card_module, "_RETRY_S", 0.1)
    # A busy machine may be long about a process that would answer.
    monkeypatch.setattr(card_module, "_OPENING_S", _PATIENCE_S)

    def made(*holds: HoldCard) -> tuple[HoldCard, c_int]:
        turn = RawValue(c_int, 0)
        return partial(fake_cards.in_turn, turn, holds), turn

    return made


@pytest.fixture
def logged() -> Iterator[list[str]]:
    """The lines of the log as they come."""
    lines: list[str] = []
    handler, level = logging.Handler(), LOG.level
    handler.emit = lambda record: lines.append(record.getMessage())  # type: ignore[method-assign]
    LOG.addHandler(handler)
    LOG.setLevel(logging.INFO)
    yield lines
    LOG.removeHandler(handler)
    LOG.setLevel(level)


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


@pytest.mark.parametrize(("patience_s", "told"), [(20 * BLOCK / 48000, 1), (60 * BLOCK / 48000, 0)])
def test_a_card_that_gives_exact_zeros_for_long_is_told_once(
    patience_s: float, told: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A muted microphone is the commonest first failure; a room is never that silent."""
    monkeypatch.setattr(card_module, "_DEAD_S", patience_s)
    said: list[str] = []
    with Card(_SETTINGS, notice=said.append, hold=fake_cards.is_muted) as card:
        read_until(card, 41 * BLOCK)
    assert len(said) == told
    assert all("Nothing but silence comes from the sound input Test card." in text for text in said)


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
    assert told[:2] == ["The sound input Test card stopped. Trying again ...", "The sound input is back."]
    assert second.start > first.start + BLOCK
    assert not [child for child in active_children() if child.name == "reedwire-card"]


def test_a_card_with_long_blocks_goes_on_later_too() -> None:
    """A block that is longer than what is read at once (85 ms of 50): a new process never leads back."""
    told: list[str] = []
    with Card(_SETTINGS.model_copy(update={"block": 4096}), told.append, hold=fake_cards.gives_long_blocks) as card:
        blocks = read_until(card, 4 * 4096)
    assert told[1] == "The sound input is back."
    assert all(after.start >= before.start + len(before.samples) for before, after in pairwise(blocks))
    ended = next(number for number, block in enumerate(blocks) if block.start + len(block.samples) == 3 * 4096)
    assert blocks[ended + 1].start > 3 * 4096


def test_a_card_that_never_calls_is_told_once(turns: Turns) -> None:
    """However many processes are tried; then that it is back. The stream begins with its first sound."""
    told: list[str] = []
    hold, _ = turns(fake_cards.opens_and_is_mute, fake_cards.opens_and_is_mute, fake_cards.counts_up)
    with Card(_SETTINGS, told.append, hold=hold) as card:
        assert read_until(card, BLOCK)[0].start == 0
    assert told == ["The sound input Test card gives no sound. Trying again ...", "The sound input is back."]


def test_why_a_card_stays_away_is_told_once_and_logged_each_time(turns: Turns, logged: list[str]) -> None:
    """Three refusals for two reasons."""
    told: list[str] = []
    refusals = (fake_cards.refuses, fake_cards.refuses, fake_cards.refuses_otherwise)
    hold, _ = turns(fake_cards.dies, *refusals, fake_cards.counts_up)
    with Card(_SETTINGS, told.append, hold=hold) as card:
        read_until(card, 2 * BLOCK)
    reasons = ["No such card. Connect one.", "The card is busy. Close other programs."]
    stopped, back = "The sound input Test card stopped. Trying again ...", "The sound input is back."
    assert told == [stopped, *reasons, back]
    assert [sum(reason in line for line in logged) for reason in reasons] == [2, 1]


def refused(*_what: object, **_how: object) -> None:
    """What the system says to a program that wants too much."""
    raise BlockingIOError(errno.EAGAIN, "Resource temporarily unavailable")


@pytest.mark.parametrize("what", ["multiprocessing.context.SpawnProcess.start", "socket.socketpair"])
def test_a_process_that_the_system_refuses_is_tried_again(
    what: str, turns: Turns, logged: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """While the machine has none left the performance goes on without sound; later the card is back."""
    hold, turn = turns(fake_cards.dies, fake_cards.counts_up)
    told: list[str] = []
    with Card(_SETTINGS, told.append, hold=hold) as card:
        read_until(card, BLOCK)
        with monkeypatch.context() as none_left:
            none_left.setattr(what, refused)
            until = time.monotonic() + _PATIENCE_S
            while sum("refused to start" in line for line in logged) < 2:
                assert time.monotonic() < until
                assert card.read(0.05) is not None
            assert turn.value == 1
        read_until(card, BLOCK)
    assert [line for line in told if "Resource temporarily unavailable" in line] == [told[1]]
    assert told[-1] == "The sound input is back."


@pytest.mark.parametrize("what", ["multiprocessing.context.SpawnProcess.start", "socket.socketpair"])
def test_a_process_that_is_refused_at_the_beginning_is_told(what: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing can begin then: the user hears why, and what to do."""
    monkeypatch.setattr(what, refused)
    with pytest.raises(UserError, match=r"Resource temporarily unavailable\): close other programs\."):
        Card(_SETTINGS, hold=fake_cards.counts_up).open()


def test_a_card_at_another_rate_does_not_end_the_show(turns: Turns) -> None:
    """What to do is told once, the outputs stay open meanwhile, and playing goes on when the card is as it was."""
    hold, turn = turns(fake_cards.dies, fake_cards.opens_at_44100, fake_cards.opens_at_44100, fake_cards.counts_up)
    told: list[str] = []
    ear, stop = Ear(), StopRequest()
    was_open: list[bool] = []

    def notice(text: str) -> None:
        told.append(text)
        was_open.append(not ear.closed)
        stop.wanted = "is back" in text

    card = Card(_SETTINGS, notice, hold=hold)
    # No test may run with real-time priority.
    card.live = False
    report = run(card, ear, notice=notice, stop=stop, seconds=_PATIENCE_S)
    what_to_do = (
        "The sound input Test card came back at 44100 samples a second, this performance runs at 48000: "
        "set the sound system back, or end and begin again."
    )
    assert told[1:] == [what_to_do, "The sound input is back."]
    assert all(was_open)
    assert turn.value == 4
    assert not report.failed
