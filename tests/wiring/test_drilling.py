"""An exercise heard as it is played: notes on the beat after the loudspeaker's delay, and what stops it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from bridge.base.clock import SystemClock
from bridge.base.errors import UserError
from bridge.capture.source import Source, no_sound_yet
from bridge.study.attempt import LEAD_S, judge, round_beat, round_s
from bridge.study.clicks import count_in
from bridge.study.exercises import COUNT_IN
from bridge.study.marks import NoteMarks, marks_of
from bridge.study.note_frames import NoteFrames
from bridge.wiring import drilling as module
from bridge.wiring.drilling import find_exercise, hear_round
from bridge.wiring.settings import Settings, load_settings
from sounds.played import Played
from sounds.students import FAULTY, FIRST_S, TEACHER, TEMPO, Student, played_by

SETTINGS = load_settings(granted=module.GRANTED)
RELEASE = find_exercise(SETTINGS, "release")
BEAT_S, DELAY_S = 60.0 / TEMPO, 0.12


class Live(Played):
    """Samples that come like those of a sound card."""

    live = True


def a_round(student: Student) -> Source:
    """The clicks as they come back and then the student, who plays to what is heard: all ``DELAY_S`` late."""
    sound = played_by(student)
    clicks = count_in(COUNT_IN, BEAT_S, round_s(RELEASE, BEAT_S) + DELAY_S, sound.rate, LEAD_S + DELAY_S)
    start = round((LEAD_S + COUNT_IN * BEAT_S + DELAY_S - FIRST_S) * sound.rate)
    played = sound.samples[: len(clicks) - start]
    clicks[start : start + len(played)] += played
    return Live(clicks, sound.rate)


@pytest.mark.parametrize(("fault", "late_ms"), [(None, 0.0), ("late", 160.0)])
def test_starts_are_counted_from_the_beat_as_it_is_heard(fault: str | None, late_ms: float) -> None:
    """The clicks play nothing, and the loudspeaker's delay is taken off; without that all would be late by it."""
    times: list[float] = []
    with a_round(TEACHER if fault is None else FAULTY[fault]) as source:
        notes = hear_round(SETTINGS, source, SystemClock(), times.append)
    assert times == sorted(times)
    attempt = judge(RELEASE, notes, SETTINGS.study, round_beat(BEAT_S, DELAY_S))
    assert attempt.advice.fault == fault
    for note in attempt.notes:
        assert note is not None
        assert note.late_s is not None
        assert 1000.0 * note.late_s == pytest.approx(late_ms, abs=20.0)
    if fault is None:
        undelayed = judge(RELEASE, notes, SETTINGS.study, round_beat(BEAT_S, 0.0))
        assert undelayed.advice.fault == "late"


def test_it_ends_when_it_is_asked_to() -> None:
    """What had begun by then is still told."""
    with a_round(TEACHER) as source:
        passed: list[float] = []
        notes = hear_round(SETTINGS, source, SystemClock(), passed.append, lambda: len(passed) > 1500)
    assert passed[-1] < 5.0
    assert len(notes) <= 1


def test_a_sound_card_that_gives_nothing_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """With what to check."""

    class Dead(Live):
        def read(self, _timeout_s: float):  # type: ignore[no-untyped-def]  # noqa: ANN202
            return no_sound_yet(0, self.rate)

    monkeypatch.setattr(module, "_NOTHING_S", 0.0)
    with pytest.raises(UserError, match="Nothing comes from the sound input samples"):
        hear_round(SETTINGS, Dead(np.zeros(0, np.float32), 48000), SystemClock())


def test_a_time_of_which_nothing_was_heard_is_not_the_time_before(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """A short note before its beat is none of the exercise: what follows is told beside the time before that."""
    deep = find_exercise(SETTINGS, "straight").aims[0].settle.low - 40.0

    def note(start_s: float, length_s: float) -> NoteMarks:
        time_s = np.arange(0.0, length_s, 0.004)
        columns = (np.full(len(time_s), value) for value in (deep, -20.0, 1.0))
        marks = marks_of(NoteFrames(start_s, start_s + length_s, start_s + time_s, *columns))
        assert marks is not None
        return marks

    def two_notes(_settings: Settings, source: Source, _clock: SystemClock) -> list[NoteMarks]:
        while source.read(0.05) is not None:
            pass
        return [note(1.1, 0.15), note(20.0, 3.0)]

    monkeypatch.setattr(module, "hear_round", two_notes)
    path = tmp_path / "played.wav"
    soundfile.write(path, 0.1 * np.sin(np.arange(48000) / 20.0), 48000)
    exercise = find_exercise(SETTINGS, "straight")
    unheard, heard = module.hear_file(SETTINGS, path, exercise, SystemClock(), 2.0, 0.0, before_cents=60.0)
    assert not unheard.heard
    # From the middle of where it should lie.
    assert heard.advice.gained_cents == pytest.approx(60.0 - (40.0 + SETTINGS.study.near_cents), abs=1.0)
