"""``reedwire tune`` with what cannot be tuned by, what is refused, and what it says."""

from __future__ import annotations

import re
from functools import partial
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from bridge.cli.tune_words import heard_line, more_line, opening_lines, step_line, tuning_lines
from bridge.harp.harp import make_harp
from bridge.study.straight import Fault, Judged
from bridge.study.tuning_lesson import Lesson
from cli.commands import run_here
from sounds.doubles import Holes, together
from sounds.sampled import RATE
from sounds.speech import speech, sung
from sounds.tuned import REST_S, Straight, soft_and_hard, tuned
from study.straight_tones import tone

Samples = NDArray[np.float32]
CROSS = ("draw 2", "draw 3", "draw 4")


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def fork(hz: float = 440.0) -> Samples:
    """A tuning fork that dies away over the noise of a quiet room: one sine, as any textbook of acoustics has it."""
    time = np.arange(8 * RATE) / RATE
    sound = 0.3 * np.sin(2.0 * np.pi * hz * time) * np.exp(-time / 4.0)
    return np.asarray(sound + 1e-4 * np.random.default_rng(1).standard_normal(len(time)), np.float32)


def two_holes() -> Samples:
    """Draw 2 and 3 at once, three times."""
    return together([Holes("draw 2+3", (67, 71))] * 3, "C", (0.0, -6.0)).samples


WANTED = "Wanted: draw 2 (G4), draw 3 (B4) and draw 4 (D5)."
VOICE = f"What was heard is a voice or a noise, no harp. {WANTED}"
PURE = f"What was heard is a pure tone, such as a tuning fork's, and no reed of a harp: it has no overtones. {WANTED}"
NONE = f"No note was heard. Play closer to the microphone, or louder. {WANTED}"

ALL_MISSING = "Not heard straight, both softly and hard: draw 2 (G4), draw 3 (B4) and draw 4 (D5)."
FIRST_OR_LOW_F = (
    "What was played is root, third and fifth in first position, not in cross. Say --position 1; or if it was a harp "
    "in low-F, say --harp low-F."
)


def on_a_harp_in(key: str, *reeds: str) -> Samples:
    """These reeds of a harp in ``key``, root, third and fifth in cross position unless told."""
    return tuned([Straight(reed) for reed in reeds or CROSS], key, 443.0)


def another_harp(key: str) -> str:
    """What is said when it was played on a harp in ``key``."""
    return (
        f"What was played is root, third and fifth of a harp in {key}, not in C. If it was that harp, say --harp {key};"
        " else take the one in C."
    )


@pytest.mark.parametrize(
    ("sound", "said"),
    [
        (lambda: np.zeros(RATE, np.float32), "a.wav: is silent throughout. Check which microphone was recorded, and "),
        (lambda: np.asarray(5e-3 * fork(), np.float32), NONE),
        (lambda: speech("English", 15.0).samples, VOICE),
        (lambda: speech("Italian", 15.0).samples, VOICE),
        (lambda: sung(15.0, vibrato_cents=0.0).samples, VOICE),
        (fork, PURE),
        (lambda: fork(392.0), PURE),
        (two_holes, f"Only several reeds at once were heard, or much noise. Narrow your lips to one hole. {WANTED}"),
        *((partial(on_a_harp_in, key), another_harp(key)) for key in ("Db", "B", "G", "F", "A")),
        (
            lambda: on_a_harp_in("Db", "draw 2", "draw 3"),
            f"{ALL_MISSING} Other notes are no straight ones of a C harp: they were bent, or the harp is another one",
        ),
        (lambda: on_a_harp_in("C", "blow 1", "blow 2", "blow 3"), FIRST_OR_LOW_F),
        (lambda: on_a_harp_in("low-F"), FIRST_OR_LOW_F),
        (
            lambda: tuned([Straight("draw 2", length_s=0.5)], "C", 443.0),
            f"Only short notes were heard. Hold each for about two seconds. {WANTED}",
        ),
        (
            lambda: tuned([*soft_and_hard("draw 2", "draw 3"), Straight("draw 4")], "C", 443.0),
            "Not heard straight, both softly and hard: draw 4 (D5).",
        ),
    ],
    ids=[
        *("silence", "too soft", "English", "Italian", "sung", "fork", "fork on a reed", "two holes"),
        *("a semitone up", "a semitone down", "a fifth up", "a fifth down", "another harp"),
        *("half of another harp", "another position", "a low harp with the same notes", "short", "one missing"),
    ],
)
def test_what_tells_no_tuning_is_said_and_nothing_is_written(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, sound: object, said: str
) -> None:
    """Status 2, one line that says what was heard, what is wanted and that nothing was written; and no file is left."""
    assert callable(sound)
    soundfile.write("a.wav", sound(), RATE, subtype="FLOAT")
    status, _, err = run_here(capsys, monkeypatch, "tune", "--file", "a.wav")
    assert status == 2
    assert err.startswith(f"reedwire: {said}")
    assert err.count("\n") == 1
    assert err.endswith(" Nothing was written.\n") or "is silent throughout" in said
    assert [path.name for path in Path().iterdir()] == ["a.wav"]


def test_a_recording_is_told_with_the_times_of_its_notes(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody is asked to play, and each note that counts or does not can be found again in the recording."""
    notes = [Straight("draw 2", length_s=0.5), *soft_and_hard("draw 2"), Straight("draw 3", bend_cents=-70.0)]
    soundfile.write("a.wav", tuned(notes, "C", 443.0), RATE, subtype="FLOAT")
    _, out, _ = run_here(capsys, monkeypatch, "tune", "--file", "a.wav", "--out", "mine.yaml")
    _, how, *heard = out.splitlines()
    assert how.startswith("Wanted is each straight, one hole alone")
    assert "Play" not in out
    told = [re.match(r" *([\d.]+) s  (Heard draw \d|Not counted: .*(?:too short|draw 3))", line) for line in heard]
    times = [float(found[1]) for found in told if found]
    assert len(times) == len(heard) == len(notes)
    # Every note begins where ``tuned`` puts it: after the rest, and after the sound and the tail of those before.
    samples, _ = soundfile.read("a.wav")
    assert times[0] == pytest.approx(REST_S, abs=0.1)
    for time_s in times:
        before, after = (np.abs(samples[round((time_s + by) * RATE) :][: RATE // 10]).max() for by in (-0.2, 0.1))
        assert after > 10.0 * before


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--file", "missing.wav"], "missing.wav: does not exist"),
        (["--file", "missing.wav", "--input", "USB"], "leave --input out, or --file"),
        (["--harp", "auto"], "auto"),
        (["--harp", "H"], "found 'H'"),
        (["--position", "7"], "no straight reed gives the root"),
    ],
)
def test_what_cannot_be_done_is_said_before_anything_is_heard(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, words: list[str], said: str
) -> None:
    """Status 2 and one message."""
    status, out, err = run_here(capsys, monkeypatch, "tune", *words)
    assert status == 2
    assert said in err
    assert out == ""


def test_a_file_is_written_over_only_when_told(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """``--overwrite`` says so; a lesson that fails leaves even then what was there."""
    out = Path("mine.yaml")
    out.write_text("key: A\n")
    soundfile.write("fork.wav", fork(), RATE, subtype="FLOAT")
    words = ("tune", "--out", "mine.yaml", "--overwrite", "--file")
    assert run_here(capsys, monkeypatch, *words, "fork.wav")[0] == 2
    assert out.read_text() == "key: A\n"
    soundfile.write("notes.wav", tuned(soft_and_hard(*CROSS), "C", 443.0), RATE, subtype="FLOAT")
    assert run_here(capsys, monkeypatch, *words, "notes.wav")[0] == 0
    assert "key: C\n" in out.read_text()


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        ("unsteady", "the pitch was unsteady. Breathe evenly"),
        ("sliding", "the pitch was sliding"),
        ("low", "-40 cents from draw 3 (B4), too low"),
        ("doubled", "not one reed alone. Narrow your lips"),
        ("short", "too short. Hold it for about two seconds"),
    ],
)
def test_a_note_that_does_not_count_is_told_why_and_what_to_try(fault: Fault, said: str) -> None:
    """In one line."""
    harp = make_harp("C", 2, 440.0)
    reed = next(reed for reed in harp.reeds if (reed.hole, reed.air) == (3, "draw"))
    line = heard_line(Judged(tone("draw 3", -40.0), reed, -40.0, fault), harp, None, None)
    assert line.startswith("  Not counted: ")
    assert said in line


def test_the_player_is_led_with_a_plain_count_and_told_what_was_found() -> None:
    """From the first step to the reeds, in words of the trade."""
    lesson = Lesson(make_harp("C", 2, 440.0))
    assert opening_lines(lesson)[0] == "C harp, cross position: draw 2 (G4), draw 3 (B4), draw 4 (D5)."
    said = []
    for reed, cents in (("draw 2", 2.0), ("draw 3", -12.0), ("draw 4", 4.0)):
        for level_db, fall in ((-36.0, 4.0), (-34.0, 4.0), (-22.0, -4.0)):
            step = lesson.step
            assert step is not None
            judged = lesson.hear(tone(reed, cents + fall, level_db))
            said += [step_line(step, lesson.harp), heard_line(judged, lesson.harp, step, lesson.step)]
    assert said[0] == "1 of 6: draw 2 (G4), softly."
    assert said[2] == said[4] == "2 of 6: draw 2 (G4), hard, but without forcing it."
    assert "Heard draw 2 (G4): 393.3" in said[1]
    assert "much the same as before: play it at least 6 dB louder" in said[3]
    assert "draw 5 (F5) would tell most" in more_line(lesson, 8.0)
    found = "\n".join(tuning_lines(lesson.tuning(), lesson.harp, lesson.harp))
    assert "A4 on this harp: 44" in found
    assert "alike in these reeds; " in found
    assert "draw 5 (F5) would tell them apart." in found
    assert "the pitch falls by " in found
