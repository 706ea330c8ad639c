"""``reedwire compare`` as it is typed: what it says and writes, takes and phone files, and what it refuses."""

from __future__ import annotations

import re
import subprocess
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile

from cli.commands import run_here
from parts import require
from sounds.known import KnownSound
from sounds.rehearsed import RATE, rehearsed
from sounds.students import FAULTY, FIRST_S, TEACHER, TEMPO, phrase_by, played_by

TIMED = ("--tempo", f"{TEMPO:g}", "--first-beat", str(FIRST_S))


@cache
def student(fault: str, key: str = "C") -> KnownSound:
    """A student with that fault, or the teacher."""
    return played_by(FAULTY.get(fault, TEACHER), key)


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def save(name: str, sound: KnownSound) -> None:
    """The sound as a file."""
    soundfile.write(name, sound.samples, sound.rate, subtype="PCM_16")


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch):  # type: ignore[no-untyped-def]  # noqa: ANN201
    """``reedwire compare`` with these words: status, output, complaint."""
    return lambda *words: run_here(capsys, monkeypatch, "compare", *words)


def test_a_page_is_written_and_its_advice_said(run) -> None:  # type: ignore[no-untyped-def]  # noqa: ANN001
    """The terminal says which harps, the one thing to try next, and where the page lies."""
    save("teacher.wav", student("teacher"))
    save("late.wav", student("late"))
    status, out, err = run("teacher.wav", "late.wav", "--harp", "C", *TIMED)
    assert (status, err) == (0, "")
    lines = out.splitlines()
    assert lines[0] == "teacher.wav: heard as C harp, cross position, as told"
    assert "2 thirds compared." in lines
    assert any(line.startswith("Next: Start sooner: it came 1") for line in lines)
    page = Path("compared.html").read_text("utf-8")
    assert "teacher.wav" in page
    assert "Start sooner" in page
    assert lines[-1].startswith(f"Wrote compared.html ({-(-len(page.encode()) // 1000)} kB)")


def test_a_page_that_is_there_is_not_written_over(run) -> None:  # type: ignore[no-untyped-def]  # noqa: ANN001
    """Nor is anything heard first; with --overwrite it is."""
    save("a.wav", student("teacher"))
    Path("there.html").write_text("mine", "utf-8")
    status, out, err = run("a.wav", "missing.wav", "--out", "there.html")
    assert (status, out) == (2, "")
    assert "is there already, and was not touched" in err
    assert Path("there.html").read_text("utf-8") == "mine"
    status, _, _ = run("a.wav", "a.wav", "--out", "there.html", "--overwrite")
    assert status == 0
    assert Path("there.html").read_text("utf-8").startswith("<!doctype html>")


@pytest.mark.parametrize(
    ("ending", "codec"),
    [("m4a", "aac"), ("ogg", "libopus"), ("mp3", "libmp3lame"), ("3gp", "aac"), ("webm", "libopus")],
)
def test_what_phones_send_is_heard(ending: str, codec: str, run) -> None:  # type: ignore[no-untyped-def]  # noqa: ANN001
    """AAC, Opus and MP3 in the containers of phones and voice messages, as FFmpeg makes them."""
    ffmpeg = require("ffmpeg")
    save("teacher.wav", student("teacher"))
    save("plain.wav", student("deep"))
    subprocess.run([ffmpeg, "-loglevel", "error", "-i", "plain.wav", "-c:a", codec, f"voice.{ending}"], check=True)
    status, out, err = run("teacher.wav", f"voice.{ending}")
    assert (status, err) == (0, "")
    assert "Next: Begin less deep" in out


def test_takes_know_their_own_harp(run, capsys, monkeypatch) -> None:  # type: ignore[no-untyped-def]  # noqa: ANN001
    """A take on A beside a recording on C: pitches over each one's root, and both harps are told."""
    save("deep.wav", student("deep", "A"))
    save("teacher.wav", student("teacher"))
    assert run_here(capsys, monkeypatch, "transcribe", "--harp", "A", "--out", "takes", "deep.wav")[0] == 0
    status, out, err = run("teacher.wav", "takes/deep", "--harp", "C")
    assert (status, err) == (0, "")
    assert "takes/deep: played on A harp, cross position" in out
    assert "They play on different harps" in out
    assert "Next: Begin less deep" in out


def test_a_student_on_another_harp_is_named_by_key_or_found(run) -> None:  # type: ignore[no-untyped-def]  # noqa: ANN001
    """--student-harp says it; without it nothing that is played on another harp is a third."""
    save("teacher.wav", student("teacher"))
    save("other.wav", student("teacher", "A"))
    status, out, _ = run("teacher.wav", "other.wav", "--student-harp", "A")
    assert status == 0
    assert "Next: All of it was as near as it should be" in out
    status, _, err = run("teacher.wav", "other.wav", "--overwrite")
    assert status == 2
    assert "other.wav: none of its 2 notes is a third on a C harp, cross position. Check --harp" in " ".join(
        err.split()
    )


def test_a_name_with_markup_is_shown_as_it_is(run) -> None:  # type: ignore[no-untyped-def]  # noqa: ANN001
    """A file called like a script does nothing in the page."""
    save("<script>.wav", student("teacher"))
    assert run("<script>.wav", "<script>.wav")[0] == 0
    page = Path("compared.html").read_text("utf-8")
    assert "&lt;script&gt;.wav" in page
    assert "<script>.wav" not in page


def test_what_cannot_be_compared_is_told(run) -> None:  # type: ignore[no-untyped-def]  # noqa: ANN001
    """No file, no sound, no note, no third, a folder that is no take, half a beat, a wrong ending, no folder."""
    save("teacher.wav", student("teacher"))
    soundfile.write("noise.wav", 0.01 * np.random.default_rng(1).standard_normal(RATE).astype(np.float32), RATE)
    soundfile.write("silent.wav", np.zeros(RATE, np.float32), RATE)
    save("roots.wav", rehearsed("C", 0, ["hand flutter"], weak=False))
    Path("text.wav").write_text("hello", "utf-8")
    Path("folder").mkdir()
    for words, complaint in (
        (("teacher.wav", "missing.wav"), "missing.wav: does not exist"),
        (("text.wav", "teacher.wav"), "text.wav: holds no sound"),
        (("teacher.wav", "silent.wav"), "silent.wav: is silent throughout"),
        (("noise.wav", "teacher.wav"), "noise.wav: no note was heard in it"),
        (("teacher.wav", "roots.wav"), "roots.wav: none of its 3 notes is a third"),
        (("teacher.wav", "folder"), "folder holds no take.yaml"),
        (("teacher.wav", "teacher.wav", "--tempo", "70"), "both --tempo and --first-beat"),
        (("teacher.wav", "teacher.wav", "--out", "page.pdf"), "the page needs the ending .html"),
        (("teacher.wav", "teacher.wav", "--out", "nowhere/page.html"), "there is no folder nowhere"),
    ):
        status, _, err = run(*words)
        assert status == 2, words
        assert complaint in " ".join(err.split()), words
    assert not Path("compared.html").exists()


def test_a_phrase_tells_its_own_beat(run) -> None:  # type: ignore[no-untyped-def]  # noqa: ANN001
    """Roots between the thirds, played more slowly: late against them, without a tempo told."""
    save("teacher.wav", phrase_by(TEACHER))
    save("late.wav", phrase_by(FAULTY["late"], tempo=TEMPO * 0.9))
    status, out, _ = run("teacher.wav", "late.wav")
    assert status == 0
    assert "The student plays at 90 % of the teacher's tempo" in out
    assert re.search(r"Next: Start sooner: it came 1[56]\d ms behind the beat", out)


def test_what_is_perhaps_another_piece_is_told(run) -> None:  # type: ignore[no-untyped-def]  # noqa: ANN001
    """Three of four thirds are not there: on the terminal and on the page; not where all are."""
    samples = student("teacher").samples
    twice = np.concatenate((samples, samples))
    soundfile.write("four.wav", twice, RATE, subtype="FLOAT")
    soundfile.write("one.wav", samples[: round(3.4 * RATE)], RATE, subtype="FLOAT")
    status, out, _ = run("four.wav", "one.wav")
    words = "3 of the teacher's 4 thirds were not heard from the student: perhaps it is not the same piece"
    assert status == 0
    assert words in " ".join(out.split())
    assert words.replace("'", "&#39;") in Path("compared.html").read_text("utf-8")
    assert "same piece" not in run("four.wav", "four.wav", "--overwrite")[1]
