"""``reedwire drill`` on recordings: what it says, what it keeps, what it refuses."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile

from bridge.capture.rehearsal import demo_performance
from bridge.cli.drill_words import progress_lines
from bridge.harp.harp import make_harp
from bridge.quantise.third import ThirdZone
from bridge.study.exercises import exercises
from bridge.takes.player_file import Kept
from cli.commands import run_here
from sounds.known import KnownSound
from sounds.rehearsed import RATE, rehearsed
from sounds.students import FAULTY, FIRST_S, TEACHER, TEMPO, played_by

RELEASE = next(each for each in exercises(ThirdZone(400.0, 300.0, 350.0, 315.0, 365.0), 10.0) if each.name == "release")
TIMED = ("--tempo", f"{TEMPO:g}", "--first-beat", str(FIRST_S))


@cache
def student(fault: str) -> KnownSound:
    """A student with that fault, or the teacher."""
    return played_by(FAULTY.get(fault, TEACHER))


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


def save(name: str, sound: KnownSound) -> None:
    """The sound as a file."""
    soundfile.write(name, sound.samples, sound.rate, subtype="FLOAT")


def test_without_an_exercise_they_are_listed(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each by its name, with what is to be played."""
    status, out, _ = run_here(capsys, monkeypatch, "drill")
    assert status == 0
    names = [line.split()[0] for line in out.splitlines() if line.startswith("  ")]
    assert names == ["straight", "minor", "blue", "release", "growing", "turn"]


def test_a_recording_is_told_note_by_note_and_kept(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A late student, then the teacher: marks, one thing to try next, a file that grows, and progress."""
    save("late.wav", student("late"))
    save("teacher.wav", student("teacher"))
    status, out, err = run_here(capsys, monkeypatch, "drill", "release", "--file", "late.wav", *TIMED)
    assert (status, err) == (0, "")
    told = " ".join(out.split())
    assert re.search(
        r"1 began 8[3-7] cents under straight(, blue)?; let go from 0\.[78]\d s on over 0\.[78]\d s \(1\.[01] beats\)",
        told,
    )
    assert "settled after 1.6" in told
    assert "one hole; 16" in told
    assert " ms behind the beat. 2 began" in told
    assert "\nNext: Start sooner: it came 16" in out
    kept = Path("data/reedwire/drill/me.jsonl")
    assert f"Kept in {kept.absolute()}." in out
    assert "never" not in out.lower()
    assert "wrong" not in out.lower()
    status, out, _ = run_here(capsys, monkeypatch, "drill", "release", "--file", "teacher.wav", *TIMED)
    assert "Next: All of it was as near as it should be" in out
    assert "2 times: 0 cents off the first time, 0 the last; the nearest 0." in out
    lines = [json.loads(line) for line in kept.read_text("utf-8").splitlines()]
    assert [(line["exercise"], line["fault"], line["tempo"]) for line in lines] == [
        ("release", "late", TEMPO),
        ("release", None, TEMPO),
    ]
    assert all(len(line["notes"]) == 2 for line in lines)


def test_fifteen_cents_nearer_than_the_time_before_is_well_done(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Too deep, then as the teacher: a success by the cents that were shaved off; kept where --out says."""
    save("deep.wav", student("deep"))
    save("teacher.wav", student("teacher"))
    _, out, _ = run_here(capsys, monkeypatch, "drill", "release", "--file", "deep.wav", "--out", "my.jsonl")
    assert "45 cents off where it should lie, on average.\nNext: Begin less deep" in out
    _, out, _ = run_here(capsys, monkeypatch, "drill", "release", "--file", "teacher.wav", "--out", "my.jsonl")
    assert "All where it should lie. That is 45 cents nearer than the time before: well done." in " ".join(out.split())
    assert not Path("data").exists()
    _, out, _ = run_here(capsys, monkeypatch, "drill", "release", "--progress", "--out", "my.jsonl")
    assert out.startswith("Release: cents off, the last 2 times, oldest first\n")


def test_nothing_is_added_to_a_file_of_something_else(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A letter named by a slip of the hand stays as it was."""
    letter = Path("letter.txt")
    letter.write_text("Dear band,\n", "utf-8")
    save("deep.wav", student("deep"))
    status, _, err = run_here(capsys, monkeypatch, "drill", "release", "--file", "deep.wav", "--out", str(letter))
    assert status != 0
    assert "letter.txt has lines and none of them was kept by reedwire drill" in err
    assert letter.read_text("utf-8") == "Dear band,\n"


def test_the_growing_bend_of_the_rehearsal_is_eight_steps(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Five times a second, from straight to minor in even steps: every note within its place and on the beat."""
    save("growing.wav", rehearsed("A", 1, ["tongued third with growing bend"], weak=False))
    words = ("drill", "growing", "--file", "growing.wav", "--harp", "A", "--a4", "441", "--tempo", "200")
    status, out, _ = run_here(capsys, monkeypatch, *words)
    assert status == 0
    assert "  8  " in out
    status, out, _ = run_here(capsys, monkeypatch, *words[:-2])
    assert "All where it should lie." in out
    assert "Next: All of it was as near as it should be" in out


def test_notes_that_are_no_third_are_named_and_not_judged(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of a whole tune the thirds alone count; in turn with the root the roots do as well."""
    harp = make_harp("C", 2, 440.0)
    tune = demo_performance(harp.root_hz, [reed.hz for reed in harp.reeds])
    soundfile.write("tune.wav", tune.samples, tune.rate, subtype="FLOAT")
    status, out, err = run_here(capsys, monkeypatch, "drill", "release", "--file", "tune.wav")
    assert (status, err) == (0, "")
    assert "above the root" not in out
    assert "under the root" not in out
    assert "on the root" not in out
    assert "Not judged, being other notes: the fifth, the root" in " ".join(out.split())
    _, out, _ = run_here(capsys, monkeypatch, "drill", "turn", "--file", "tune.wav")
    assert "on the root" in out
    assert "the root" not in " ".join(out.split()).split("Not judged, being other notes: ")[1].split(".")[0]
    for line in Path("data/reedwire/drill/me.jsonl").read_text("utf-8").splitlines():
        record = json.loads(line)
        lowest = 200.0 if record["exercise"] == "release" else -100.0
        assert all(lowest <= note["settle_cents"] <= 460.0 for note in record["notes"] if note)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("loud",), "There is no exercise 'loud'. There are straight, minor, blue, release, growing, turn."),
        (("blue", "--file", "a.wav"), "a.wav: no note of this exercise was heard. Check --harp and --position."),
        (("blue", "--file", "a.wav", "--silent"), "--file listens to a recording, without a sound card: leave"),
        (("blue", "--first-beat", "1"), "--first-beat says where a beat lies in a recording: it goes with --file and"),
        (("blue", "--silent", "--output", "x"), "--silent plays nothing: leave --output out, or --silent."),
        (("blue", "--file", "none.wav"), "none.wav: "),
        (("blue", "--player", "../me"), "Player '../me': a name has up to 40 letters"),
    ],
)
def test_what_cannot_be_done_is_one_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], said: str
) -> None:
    """Status 2, what was found and what to do; nothing is kept."""
    noise = 1e-3 * np.random.default_rng(1).standard_normal(2 * RATE)
    soundfile.write("a.wav", noise, RATE, subtype="FLOAT")
    status, _, err = run_here(capsys, monkeypatch, "drill", *words)
    assert status == 2
    assert err.startswith(f"reedwire: {said}")
    assert err.count("\n") == 1
    assert not Path("data").exists()


def test_progress_is_a_plot_in_plain_text_and_words() -> None:
    """One mark a time, high for far off, and the beginning beside now."""
    off = (60.0, 55.0, 50.0, 30.0, 31.0, 8.0, 10.0, 12.0)
    kept = [Kept("2026-11-29T10:00:00", "release", 72.0, cents, None) for cents in off]
    other = Kept("2026-11-29T10:00:00", "blue", 72.0, 99.0, None)
    assert progress_lines([other, *kept, other], RELEASE) == [
        "Release: cents off, the last 8 times, oldest first",
        "   60 |oo",
        "      |  o",
        "      |",
        "   30 |   oo",
        "      |",
        "      |     ooo",
        "    0 |",
        "8 times: 55 cents off in the beginning, 10 now; the nearest 8.",
    ]
    assert progress_lines(kept[:1], RELEASE) == []


def test_an_unknown_player_is_told_who_is_known(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A name with a slip in it is no player without progress; where nobody has played yet, it is said."""
    status, out, _ = run_here(capsys, monkeypatch, "drill", "--progress", "--player", "Nobody")
    assert status == 0
    assert "Nothing to show yet" in out
    Path("data/reedwire/drill").mkdir(parents=True)
    for name in ("ann", "me"):
        Path(f"data/reedwire/drill/{name}.jsonl").touch()
    status, _, err = run_here(capsys, monkeypatch, "drill", "--progress", "--player", "Nobody")
    assert (status, err) == (2, "reedwire: There is no player 'Nobody' yet; known: ann, me.\n")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("drill", "blue", "--tempo", "20"), "--tempo: found '20', allowed: a number from 30 to 200 (beats a minute)"),
        (("explain", "--tempo", "x"), "--tempo: found 'x', allowed: a number from 30 to 200 (beats a minute)"),
        (
            ("compare", "a", "b", "--tempo", "nan"),
            "--tempo: found 'nan', allowed: a number from 30 to 300 (beats a minute)",
        ),
        (
            ("board", "--port", "99999"),
            "--port: found '99999', allowed: a whole number from 1024 to 65535 (port of the",
        ),
        (("board", "--port", "x"), "--port: found 'x', allowed: a whole number from 1024 to 65535 (port of the"),
    ],
)
def test_a_number_out_of_range_is_told_like_any_other_setting(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], said: str
) -> None:
    """In one line: the option, what was found, what is allowed."""
    status, _, err = run_here(capsys, monkeypatch, *words)
    assert status == 2
    assert err.startswith(f"reedwire: {said}")
