"""Listening to a whole lesson, played by the synthetic player, whose pitch is known exactly."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from bridge.base.clock import ManualClock
from bridge.base.errors import UserError
from bridge.base.events import AudioBlock
from bridge.capture.player import Performance, PlayedNote, perform
from bridge.capture.reed_tone import ReedVoice
from bridge.capture.rehearsal import Rehearsal
from bridge.capture.source import Source, no_sound_yet
from bridge.harp.harp_file import FORMAT, HarpFile
from bridge.study.straight import Judged
from bridge.study.tuning_lesson import Lesson
from bridge.wiring.settings import load_settings
from bridge.wiring.tuning import PATIENCE_S, listen, new_lesson, save_harp_file
from sounds.tuned import SEVEN_LIMIT, equal_hz, midi_of

RATE, A4_HZ = 48000, 443.0
CROSS = ("draw 2", "draw 3", "draw 4")
SETTINGS = load_settings()


def lesson_of(performance: Performance) -> tuple[Lesson, list[Judged]]:
    """The lesson on a C harp after that performance, and what was told of each note."""
    lesson, told = new_lesson(SETTINGS), list[Judged]()
    with Rehearsal(performance, 4096) as source:
        listen(SETTINGS, source, lesson, told.append, ManualClock())
    return lesson, told


def notes(*reeds: str, fall_cents: float, wander_cents: float, louder_db: float, seed: int) -> list[PlayedNote]:
    """Each reed of a 7-limit C harp softly and hard, each on a reed of its own voice and loudness."""
    rng = np.random.default_rng(seed)
    played: list[PlayedNote] = []
    for reed in reeds:
        voice = ReedVoice(fundamental=float(0.1 ** rng.uniform(0.0, 1.0)), brightness=float(rng.uniform(0.3, 0.8)))
        level_db = float(rng.uniform(-24.0, -18.0))
        for half, softer_db in ((0.5, louder_db), (-0.5, 0.0)):
            cents = SEVEN_LIMIT[reed] + half * fall_cents
            hz = equal_hz(midi_of(reed, "C"), A4_HZ) * 2.0 ** (cents / 1200.0)
            start_s = 0.5 + 2.4 * len(played)
            played.append(
                PlayedNote(start_s, 1.8, hz, level_db=level_db - softer_db, wander_cents=wander_cents, voice=voice)
            )
    return played


@pytest.mark.parametrize("seed", [1, 2])
def test_reeds_that_fall_with_breath_are_recovered(seed: int) -> None:
    """A4 within 0.2 Hz, reeds within 1.5 cents and the fall within 1.5, though breath wanders and hard is flatter."""
    score = notes(*CROSS, fall_cents=10.0, wander_cents=2.0, louder_db=13.0, seed=seed)
    lesson, told = lesson_of(perform(score, RATE, seed))
    assert [judged.fault for judged in told] == [None] * 6
    tuning = lesson.tuning()
    assert tuning.a4_hz == pytest.approx(A4_HZ, abs=0.2)
    for reed, found in tuning.reeds:
        assert found.offset_cents == pytest.approx(SEVEN_LIMIT[f"{reed.air} {reed.hole}"], abs=1.5)
    assert tuning.breath is not None
    assert tuning.breath.fall_cents == pytest.approx(10.0, abs=1.5)


def test_what_is_no_straight_note_is_told_with_its_reason() -> None:
    """Vibrato, a bend that is let go, a bend that is held, a note too short: none counts."""
    hz = equal_hz(midi_of("draw 3", "C"), 440.0)
    score = [
        PlayedNote(0.5, 1.8, hz, vibrato_hz=5.0, vibrato_cents=25.0),
        PlayedNote(3.0, 1.8, hz, glide=((0.0, -45.0), (1.6, 0.0))),
        PlayedNote(5.5, 1.8, hz * 2.0 ** (-100.0 / 1200.0)),
        PlayedNote(8.0, 0.5, hz),
    ]
    lesson, told = lesson_of(perform(score, RATE, 1))
    assert [judged.fault for judged in told] == ["unsteady", "sliding", "other", "short"]
    assert lesson.hearings == ()


class Microphone(Source):
    """A live source that gives silence, or nothing at all, and moves the clock on as it does."""

    name, rate, live = "stand-in", RATE, True

    def __init__(self, clock: ManualClock, *, dead: bool) -> None:
        self._clock, self._dead, self._next = clock, dead, 0

    def open(self) -> None:
        """Nothing to open."""

    def read(self, timeout_s: float) -> AudioBlock | None:
        """Silence, or nothing."""
        self._clock.sleep(timeout_s)
        if self._dead:
            return no_sound_yet(0, RATE)
        block = AudioBlock(self._next, RATE, np.zeros(round(timeout_s * RATE), np.float32))
        self._next += len(block.samples)
        return block

    def close(self) -> None:
        """Nothing to close."""


def test_nobody_is_waited_for_for_ever() -> None:
    """After the patience of a minute it ends, and sooner when it is told to."""
    clock = ManualClock()
    lesson = new_lesson(SETTINGS)
    listen(SETTINGS, Microphone(clock, dead=False), lesson, lambda _: None, clock)
    assert clock.now() == pytest.approx(PATIENCE_S, abs=1.0)
    listen(SETTINGS, Microphone(clock, dead=False), lesson, lambda _: None, clock, lambda: True)
    assert clock.now() == pytest.approx(PATIENCE_S, abs=1.0)


def test_a_dead_sound_card_is_told() -> None:
    """It gives no samples at all."""
    clock = ManualClock()
    with pytest.raises(UserError, match=r"Nothing comes from the sound input stand-in\. Check its plug"):
        listen(SETTINGS, Microphone(clock, dead=True), new_lesson(SETTINGS), lambda _: None, clock)


def test_a_file_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    """With what to do, and without a piece of it left behind."""
    file = HarpFile(format=FORMAT, date="2026-11-25", key="C", a4_hz=440.0)
    with pytest.raises(UserError, match=r"cannot be written .*Choose another file"):
        save_harp_file(tmp_path / "no" / "my-harp.yaml", file)
    assert not list(tmp_path.iterdir())
