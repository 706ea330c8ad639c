"""Settings, presets and options that a user gets wrong: one plain message, status 2.

Of each way that settings come in the first that is wrong goes through the real command in a process of its own, the
others through the same entry point in this one: they differ in nothing but what is said, and each start costs a second.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Protocol

import pytest

from cli.commands import run_here
from main_job.bad_files import one_complaint, write_tone, written
from main_job.command import Said, reedwire

#: ``--set`` words, the key that the message must name, what was found, and words of what is allowed.
BAD_SETS = (
    ("harp.kee=C", "harp.kee", "kee", "key"),
    ("harpp.key=C", "harpp", "harpp", "harp"),
    ("harp.a4_hz=300", "harp.a4_hz", "300", "400.*480"),
    ("harp.a4_hz=high", "harp.a4_hz", "high", "number"),
    ("harp.key=H", "harp.key", "H", "Bb"),
    ("harp.position=13", "harp.position", "13", "1 to 12"),
    ("quantise.scale=bluse", "quantise.scale", "bluse", "blues"),
    ("follow.follower=ears", "follow.follower", "ears", "own.*aubio"),
    ("quantise.third.target=700", "quantise.third.target", "700", "zone_high"),
    ("quantise.velocity=0", "quantise.velocity", "0", "1 to 127"),
    ("send.midi.bend_range=2.5", "send.midi.bend_range", "2.5", "whole number"),
    ("send.midi=3", "send.midi", "3", "bend_range"),
    ("send.osc.to=nowhere", "send.osc.to", "nowhere", "HOST:PORT"),
)


class Transcribe(Protocol):
    """``reedwire transcribe`` with these words, in a process of its own if ``by_itself``."""

    def __call__(self, *words: str | Path, by_itself: bool) -> Said:
        """How it ended and what it wrote."""


@pytest.fixture
def transcribe(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Transcribe:
    """The command, either way."""

    def run(*words: str | Path, by_itself: bool) -> Said:
        if by_itself:
            return reedwire("transcribe", *words)
        return Said(*run_here(capsys, monkeypatch, "transcribe", *map(str, words)))

    return run


@pytest.mark.parametrize(("word", "key", "found", "allowed"), BAD_SETS, ids=[word for word, *_ in BAD_SETS])
def test_a_bad_setting_is_told_with_what_is_allowed(
    transcribe: Transcribe, word: str, key: str, found: str, allowed: str, tmp_path: Path
) -> None:
    """``--set``: one message with the word itself, the key, what was found and what is allowed; status 2."""
    sound, out = write_tone(tmp_path / "solo.wav"), tmp_path / "out"
    said = transcribe(sound, "--out", out, "--set", word, by_itself=word == BAD_SETS[0][0])
    assert said.status == 2
    one_complaint(said, re.escape(f"--set {word}"), rf"{re.escape(key)}: found '?{found}'?, allowed: .*{allowed}")
    assert not out.exists() or written(out) == []


def test_a_word_without_a_value_is_told(tmp_path: Path) -> None:
    """``--set`` takes key=value."""
    said = reedwire("transcribe", write_tone(tmp_path / "solo.wav"), "--out", tmp_path, "--set", "harp.key")
    assert said.status == 2
    one_complaint(said, "harp.key", "key=value")


#: Lines of a preset, the line that is wrong, and what the message must hold after file and line.
BAD_PRESETS = {
    "syntax error": ("harp:\n  key: C\n  a4_hz: [440\nsend: {}\n", (3, 4), ("YAML",)),
    "unbalanced quotes": ('harp:\n  key: "C\n', (2, 3), ("YAML",)),
    "unknown key": ("harp:\n  key: C\n  tuning: just\n", (3,), ("harp.tuning", "found 'tuning'", "allowed: .*a4_hz")),
    "unknown group": ("# mine\nharmonica:\n  key: C\n", (2,), ("harmonica", "found", "allowed: .*harp")),
    "wrong type": ("harp:\n  a4_hz: high\n", (2,), ("harp.a4_hz", "found 'high'", "allowed: .*number.*400.*480")),
    "out of range": ("send:\n  midi:\n    channel: 17\n", (3,), ("send.midi.channel", "found 17", "allowed: .*1.*16")),
    "a list for a group": ("send:\n  - midi\n", (1,), ("send", "found", "allowed: .*midi")),
    "given twice": ("harp:\n  key: C\n  key: D\n", (3,), ("key", "twice")),
    "no mapping": ("just words\n", (1,), ("just words",)),
}


@pytest.mark.parametrize("case", list(BAD_PRESETS))
def test_a_bad_preset_is_told_with_file_and_line(transcribe: Transcribe, case: str, tmp_path: Path) -> None:
    """A YAML file of the user's: one message with its name, the line, key, what was found and is allowed; status 2."""
    content, lines, words = BAD_PRESETS[case]
    preset = tmp_path / "mine.yaml"
    preset.write_text(content, encoding="utf-8")
    sound = write_tone(tmp_path / "solo.wav")
    out = tmp_path / "out"
    said = transcribe(sound, "--out", out, "--preset", preset, by_itself=case == next(iter(BAD_PRESETS)))
    assert said.status == 2
    one_complaint(said, *words)
    assert any(f"{preset}:{line}:" in said.err for line in lines), said.err


def test_a_preset_that_is_not_there_is_told_with_those_there_are(tmp_path: Path) -> None:
    """By name and by file: the message lists the presets."""
    sound = write_tone(tmp_path / "solo.wav")
    for preset in ("stag", "mine.yaml"):
        said = reedwire("transcribe", sound, "--out", tmp_path / "out", "--preset", preset)
        assert said.status == 2
        one_complaint(said, re.escape(preset), "classroom.*recording.*stage")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--input", "missing.wav", "--midi", "none"), "missing.wav.*does not exist"),
        (("--input", "solo.wav", "--midi", "no such port"), "no such port"),
        (("--input", "solo.wav", "--midi", "none", "--osc", "nowhere"), "nowhere"),
        (("--input", "solo.wav", "--harp", "H"), "H.*Bb"),
    ],
    ids=["input", "midi", "osc", "harp"],
)
def test_play_tells_what_it_cannot_open(arguments: tuple[str, ...], words: str, tmp_path: Path) -> None:
    """A wrong input, port, address or harp: the last line says so, status 2, nothing hangs."""
    write_tone(tmp_path / "solo.wav")
    said = reedwire("play", *arguments, "--set", "send.osc.listen=none", cwd=tmp_path)
    assert said.status == 2
    assert said.accidents == []
    (complaint,) = said.complaints
    assert re.search(words, complaint), complaint


def test_an_unknown_option_is_told_without_a_traceback(tmp_path: Path) -> None:
    """A misspelt option ends with status 2 and names the option."""
    said = reedwire("transcribe", write_tone(tmp_path / "solo.wav"), "--ouf", tmp_path)
    assert said.status == 2
    assert said.accidents == []
    assert "--ouf" in said.err
