"""``reedwire check`` without a sound card: recordings, what is refused, and what it says."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import numpy as np
import pytest
import soundfile
import yaml

from bridge.cli.room_words import GUARD_OPTION, GUARD_PRESET, hum_line, loudspeaker_lines, room_lines, why_not
from bridge.follow.hum import Hum
from bridge.follow.loudspeaker import LoudspeakerReturn
from bridge.follow.room_noise import LearnedRoom
from bridge.quantise.bleed import BleedSettings
from bridge.wiring.settings import load_settings
from cli.commands import run_here

RATE = 48000


def recording(path: Path, *, gain: float = 1.0, paused: bool = True) -> Path:
    """A tone of RMS 0.2, a second on and a second off, over noise at -60 dBFS; ``gain`` times as loud, cut at 1."""
    time = np.arange(6 * RATE) / RATE
    tone = 0.2 * np.sqrt(2.0) * np.sin(2 * np.pi * 440.0 * time) * ((time % 2.0 < 1.0) if paused else 1.0)
    noise = 1e-3 * np.random.default_rng(2).standard_normal(len(time))
    soundfile.write(path, np.clip(gain * (tone + noise), -1.0, 1.0), RATE, subtype="FLOAT")
    return path


def test_a_recording_tells_its_levels_and_its_gate(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Playing at -14 dBFS, the gate between pauses and playing, as a preset that loads."""
    monkeypatch.chdir(tmp_path)
    recording(tmp_path / "a.wav")
    status, out, err = run_here(capsys, monkeypatch, "check", "--file", "a.wav", "--save", "mine.yaml")
    assert (status, err) == (0, "")
    playing = re.search(r"playing is at (-[\d.]+) dBFS", out)
    assert playing is not None
    assert float(playing[1]) == pytest.approx(-14.0, abs=0.5)
    gate = load_settings("mine.yaml").follow.gate
    assert -60.0 < gate.close_db < gate.open_db < -14.0
    assert f"--set follow.gate.open_db={gate.open_db} --set follow.gate.close_db={gate.close_db}" in out
    assert yaml.safe_load((tmp_path / "mine.yaml").read_text()).keys() == {"follow"}


def test_an_overloaded_recording_without_pauses_is_told(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """It counts the places, has no gate to give, saves nothing, and ends with status 1."""
    file = recording(tmp_path / "a.wav", gain=6.0, paused=False)
    saved = tmp_path / "mine.yaml"
    status, out, err = run_here(capsys, monkeypatch, "check", "--file", str(file), "--save", str(saved))
    assert (status, err) == (1, "Nothing was saved.\n")
    assert re.search(r"Overloaded in \d\d+ places", out)
    assert "It has no pause in which the sound falls at least 15 dB under the playing" in out
    assert not saved.exists()


def test_only_the_first_seconds_are_looked_at_if_asked_for(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """6 s of which the last 3 are overloaded: their peak and their places are neither in the first 2.5 s nor told."""
    samples, _ = soundfile.read(recording(tmp_path / "a.wav"))
    samples[3 * RATE :] = np.clip(9.0 * samples[3 * RATE :], -1.0, 1.0)
    soundfile.write(tmp_path / "a.wav", samples, RATE, subtype="FLOAT")
    words = ("check", "--file", str(tmp_path / "a.wav"))
    assert run_here(capsys, monkeypatch, *words)[1].startswith("6.0 s. The playing")
    status, out, err = run_here(capsys, monkeypatch, *words, "--seconds", "2.5")
    assert (status, err) == (0, "")
    assert out.startswith("The first 2.5 s of it. The playing is at -1")
    # A sine of RMS 0.2 peaks at 0.28: -11 dBFS (any textbook), and little noise.
    peak = re.search(r"the peak at (-[\d.]+) dBFS", out)
    assert peak is not None
    assert float(peak[1]) == pytest.approx(20 * np.log10(0.2 * np.sqrt(2.0)), abs=0.2)
    assert "Overloaded" not in out
    assert run_here(capsys, monkeypatch, *words, "--seconds", "60")[1].startswith("6.0 s. The playing")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "a.wav: is silent throughout."),
        (
            ["--seconds", "3"],
            "a.wav: is silent throughout its first 3.0 s. Look at more of it, with a greater --seconds",
        ),
    ],
)
def test_a_silent_recording_is_no_playing(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path, words: list[str], said: str
) -> None:
    """It has neither level nor pauses to tell of, only that it is silent; status 2."""
    monkeypatch.chdir(tmp_path)
    soundfile.write("a.wav", np.zeros(5 * RATE), RATE)
    status, out, err = run_here(capsys, monkeypatch, "check", "--file", "a.wav", *words)
    assert (status, out) == (2, "")
    assert err.startswith(f"reedwire: {said}")


def test_a_gate_that_would_cost_soft_notes_is_told(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Playing at -14 dBFS over pauses at -34: a gate that keeps these out leaves no room for notes 15 dB softer."""
    noisy, samples = tmp_path / "noisy.wav", soundfile.read(recording(tmp_path / "a.wav"))[0]
    noise = 0.025 * np.random.default_rng(3).standard_normal(len(samples))
    soundfile.write(noisy, samples + noise, RATE, subtype="FLOAT")
    status, out, _ = run_here(capsys, monkeypatch, "check", "--file", str(noisy))
    assert status == 0
    assert re.search(r"Soft notes may be lost with it: they need 15 dB .*, here there are \d\. ", out)
    assert "Soft notes" not in run_here(capsys, monkeypatch, "check", "--file", str(tmp_path / "a.wav"))[1]


def test_a_preset_is_named_as_a_shell_takes_it(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """A name with a space can be copied from the line that says how to use it; --overwrite writes it anew."""
    monkeypatch.chdir(tmp_path)
    recording(tmp_path / "a.wav")
    Path("my room.yaml").write_text("harp: {key: A}\n")
    words = ("check", "--file", "a.wav", "--save", "my room.yaml", "--overwrite")
    status, out, _ = run_here(capsys, monkeypatch, *words)
    assert status == 0
    assert shlex.split(out.splitlines()[-1])[-4:] == ["reedwire", "play", "--preset", "my room.yaml"]
    assert yaml.safe_load(Path("my room.yaml").read_text()).keys() == {"follow"}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--file", "a.wav", "--input", "USB"], "leave --input out, or --file"),
        (["--file", "a.wav", "--output", "USB"], "leave --output out, or --file"),
        (["--file", "a.wav", "--yes"], "leave --yes out, or --file"),
        (["--file", "a.wav", "--midi", "synth"], "leave --midi out, or --file"),
        (["--file", "a.wav", "--room-only"], "leave --room-only out, or --file"),
        (["--room-only", "--midi", "synth"], "leave --midi out, or --room-only"),
        (["--room-only", "--yes"], "leave --yes out, or --room-only"),
        (["--file", "missing.wav"], "missing.wav: does not exist"),
        (["--seconds", "0"], "Invalid value for '--seconds'"),
    ],
)
def test_what_cannot_be_done_is_said_before_anything_is_heard(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path, words: list[str], said: str
) -> None:
    """Status 2 and one message."""
    monkeypatch.chdir(tmp_path)
    status, out, err = run_here(capsys, monkeypatch, "check", *words)
    assert status == 2
    assert said in err
    assert out == ""


def test_a_recording_cannot_be_learned_from_before_playing(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """``play --learn-room`` needs a microphone and says what to do for a file."""
    file = recording(tmp_path / "a.wav")
    status, _, err = run_here(capsys, monkeypatch, "play", "--learn-room", "--input", str(file), "--midi", "none")
    assert status == 2
    assert "reedwire check --file SOUND" in err


@pytest.mark.parametrize(
    ("room", "said"),
    [
        (LearnedRoom(5.0, -120.0, -120.0, 0.0, 0.0), "Nothing but silence"),
        (LearnedRoom(5.0, -60.0, -57.0, 440.0, 1.0), "about 440 Hz). Play nothing for 5 seconds, and try again."),
        (LearnedRoom(5.0, -60.0, -40.0, 0.0, 0.5), "something sounded for 0.5 s. Play nothing for 5 seconds"),
    ],
)
def test_why_a_room_cannot_be_learned_is_said_with_what_to_do(room: LearnedRoom, said: str) -> None:
    """A dead microphone, somebody who plays, and a noise in between."""
    assert said in (why_not(room) or "")


def test_hum_that_passes_for_a_tone_is_named() -> None:
    """A room that hums loudly is no room in which somebody plays."""
    assert hum_line(Hum(60, -31.4)).startswith("The mains hum at 60 Hz, -31 dBFS: mend that first")


def test_a_quiet_room_is_learned_and_a_loud_one_warned_of() -> None:
    """Both get their settings; only the loud one the warning."""
    quiet, loud = LearnedRoom(5.0, -70.0, -67.0, 0.0, 0.0), LearnedRoom(5.0, -40.0, -37.0, 0.0, 0.0)
    assert why_not(quiet) is why_not(loud) is None
    assert "--set follow.gate.open_db=-58.0 --set follow.gate.close_db=-64.0" in "\n".join(room_lines(quiet))
    assert "Too loud" not in "\n".join(room_lines(quiet))
    assert "here there are 8" in "\n".join(room_lines(loud))


def words_for(gain_db: float, *, clipped: bool = False, guard: bool = False, delay_s: float = 0.0155) -> str:
    """What is said of a loudspeaker that comes back that late, with a gate that closes at -56 dBFS."""
    found = LoudspeakerReturn(delay_s, gain_db, 50.0, clipped=clipped)
    return "\n".join(loudspeaker_lines(found, -46.0, close_db=-56.0, bleed=BleedSettings(guard=guard)))


@pytest.mark.parametrize(
    ("gain_db", "clipped", "said"),
    [
        (-40.0, False, "40 dB under the harp.\nNo headphones are needed"),
        (-12.0, False, "12 dB under the harp.\nUse headphones"),
        (6.0, False, "6 dB above the harp.\nUse headphones"),
        (-30.0, True, "It overloaded the microphone: turn the loudspeaker down and check again.\nUse headphones"),
    ],
)
def test_what_comes_back_is_said_with_what_to_do(gain_db: float, clipped: bool, said: str) -> None:
    """Delay, level, and the verdict."""
    text = words_for(gain_db, clipped=clipped)
    assert f"after 15.5 ms, {gain_db:+.1f} dB (played at -46 dBFS)" in text
    assert said in text


@pytest.mark.parametrize(
    ("gain_db", "recommended", "refused"),
    [(-40.0, False, False), (-30.0, True, False), (-12.0, True, False), (-11.0, False, True), (6.0, False, True)],
)
def test_the_guard_is_recommended_where_it_helps(gain_db: float, recommended: bool, refused: bool) -> None:
    """Above the gate, and at least 12 dB softer than the harp; the synth is taken for as loud as a harp."""
    text = words_for(gain_db)
    assert (GUARD_OPTION in text) is (GUARD_PRESET in text) is recommended
    assert ("no guard can tell it apart" in text) is refused


def test_a_guard_that_is_on_is_not_recommended() -> None:
    """It is only said that it is needed."""
    assert "the guard is on" in words_for(-12.0, guard=True)
    assert GUARD_OPTION not in words_for(-12.0, guard=True)


@pytest.mark.parametrize("guard", [False, True])
def test_a_slow_loudspeaker_is_waited_for(guard: bool, tmp_path: Path) -> None:
    """What is recommended for one that answers after 0.2 s loads, and lets the guard know late answers."""
    text = words_for(-20.0, guard=guard, delay_s=0.2)
    assert (GUARD_OPTION in text) is not guard
    assert "now and then" in text
    assert "now and then" not in words_for(-20.0, guard=guard, delay_s=0.04)
    on = ["quantise.bleed.guard=true"] * guard
    sets = re.findall(r"--set (\S+)", text)
    preset = tmp_path / "mine.yaml"
    preset.write_text(text.partition("In a preset: ")[2].splitlines()[0] + "\n")
    expected = BleedSettings(guard=True, answers_ms=260.0)
    assert load_settings(sets=on + sets).quantise.bleed == expected
    assert load_settings(str(preset), sets=on).quantise.bleed == expected


def test_both_ways_to_switch_the_guard_on_do_so(tmp_path: Path) -> None:
    """The option and the line of a preset that are recommended load, and nothing else changes."""
    preset = tmp_path / "mine.yaml"
    preset.write_text(GUARD_PRESET + "\n")
    expected = load_settings().quantise.model_copy(update={"bleed": BleedSettings(guard=True)})
    assert load_settings(str(preset)).quantise == expected
    assert load_settings(sets=[GUARD_OPTION.removeprefix("--set ")]).quantise == expected
