"""What goes wrong while a performance learns of its harp ends the learning and nothing else; no note waits for it."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from multiprocessing import active_children
from multiprocessing.context import SpawnProcess

import numpy as np
import pytest

from bridge.base.events import AudioBlock, NoteOff, NoteOn
from bridge.study.zero import Zero
from bridge.wiring import live, live_search, live_tuning
from bridge.wiring.asking import Asking
from bridge.wiring.chain import Chain
from bridge.wiring.learning import Learning
from bridge.wiring.live_tuning import LiveTuning
from bridge.wiring.settings import Settings, load_settings
from follow.tones import RATE, blocks_of, harmonic_tone
from sounds.played import Played
from wiring.stand_ins import Ear, Tone, run

#: A C harp's draw 2, 20 cents sharp (OEIS A291810).
ROOT_HZ = 440.0 * 2.0 ** ((67 - 69 + 0.20) / 12.0)


def _settings(**flags: object) -> Settings:
    return load_settings(flags={"capture.paced": False, **{f"harp.{name}": value for name, value in flags.items()}})


def _roots(rests_s: tuple[float, ...]) -> Played:
    """As many roots of 0.3 s as rests, each with its rest behind it."""
    parts = [(harmonic_tone(ROOT_HZ, 0.3), np.zeros(round(rest_s * RATE), np.float32)) for rest_s in rests_s]
    return Played(np.concatenate([part for parts in parts for part in parts]), RATE)


def _fails(*_: object, **__: object) -> None:
    raise FloatingPointError("too flat")


def test_a_fault_while_a4_is_learned_is_told_once_and_the_playing_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every note is sent, and no question is asked again."""
    monkeypatch.setattr(live_tuning, "find_zero", _fails)
    ear, said = Ear(), list[str]()
    run(_roots((0.3,) * 5), ear, settings=_settings(tune="auto"), notice=said.append)
    assert said == ["A4 is no longer learned: too flat; the playing goes on."]
    assert ear.notes == ["NoteOn", "NoteOff"] * 5


def test_a_fault_while_the_harp_is_sought_leaves_a4_to_be_learned(monkeypatch: pytest.MonkeyPatch) -> None:
    """What to do is said, and the other learning goes on."""
    monkeypatch.setattr(live_search, "likely_harp", _fails)
    said = list[str]()
    chain = Chain(_settings(key="auto", tune="auto"), RATE)
    with Learning(_settings(key="auto", tune="auto"), chain, said.append, patient=True) as learning:
        chain.add_harp_hearer(lambda held: said.append(held.harp.name))
        source = _roots((0.3,) * 6)
        while (block := source.read(0.0)) is not None and block.start < 5 * 0.6 * RATE:
            chain.feed(block)
            learning.attend()
            if block.start // 128 == round(0.7 * RATE / 128):
                chain.change_harp("C")
    assert said[1] == "The harp is no longer sought: too flat; name its key."
    assert said[2] == "C harp, cross position"
    assert said[-2].startswith("A4 taken as 44")
    assert said[-1] == f"A4 was {chain.harp.a4_hz:.1f} Hz at the end."


def test_where_no_process_can_be_started_nothing_is_learned(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each learning says so once, and what to do; attending does nothing."""

    def refuse(_: SpawnProcess) -> None:
        raise OSError(11, "Resource temporarily unavailable")

    monkeypatch.setattr(SpawnProcess, "start", refuse)
    said = list[str]()
    settings = _settings(key="auto", tune="auto")
    with Learning(settings, Chain(settings, RATE), said.append, patient=False) as learning:
        learning.attend()
    why = "no process can be started (Resource temporarily unavailable)"
    assert said == [
        f"The harp is no longer sought: {why}; name its key.",
        f"A4 is no longer learned: {why}; the playing goes on.",
    ]


def test_sound_that_does_not_wait_has_its_questions_answered_by_another_process() -> None:
    """One for each learning while it lasts, and none afterwards."""
    settings = _settings(key="auto", tune="auto")
    with Learning(settings, Chain(settings, RATE), lambda _: None, patient=False):
        assert [child.name for child in active_children()].count("reedwire-asking") == 2
    assert not [child for child in active_children() if child.name == "reedwire-asking"]


def test_notes_end_before_anything_waits_for_a_question(monkeypatch: pytest.MonkeyPatch) -> None:
    """When the learning is closed the outputs are closed already, and the last note has ended."""
    ear = Ear()
    closed: list[tuple[bool, str]] = []

    class Watched(Learning):
        def __exit__(self, *_: object) -> None:
            closed.append((ear.closed, ear.notes[-1]))

    monkeypatch.setattr(live, "Learning", Watched)
    run(Tone(), ear, settings=_settings(tune="auto"))
    assert closed == [(True, "NoteOff")]


class _Late(Asking[Zero | None]):
    """Answers after some polls, as a process does."""

    def __init__(self, polls: int) -> None:
        super().__init__()
        self._polls, self._left = polls, 0

    def ask(self, question: Callable[[], Zero | None]) -> None:
        """Begin to wait."""
        super().ask(question)
        self._left = self._polls

    def answer(self) -> Zero | None:
        """None at first."""
        self._left -= 1
        return super().answer() if self._left < 0 else None


def test_one_rest_moves_a4_once_however_late_the_answers_come() -> None:
    """An answer that comes in the next rest's beginning is followed by that rest's own: together they are one step."""
    chain = Chain(_settings(tune="auto"), RATE)
    sounds: list[NoteOn | NoteOff | float] = []
    chain.add_learner(lambda event: sounds.append(event) if isinstance(event, NoteOn | NoteOff) else None)
    chain.add_harp_hearer(lambda held: sounds.append(held.harp.a4_hz))
    tuning = LiveTuning(chain, _Late(12), lambda _: None)
    parts = [(harmonic_tone(ROOT_HZ, 0.3), np.zeros(round(rest_s * RATE), np.float32)) for rest_s in (0.18, 0.6) * 3]
    for block in blocks_of(np.concatenate([part for both in parts for part in both]), 240):
        chain.feed(AudioBlock(block.start, RATE, block.samples))
        tuning.attend()
    steps = [isinstance(sound, float) for sound in sounds]
    assert sum(steps) >= 2
    assert not any(one and other for one, other in pairwise(steps))
