"""The commands from the outside: what they print, what they leave behind, and how they end."""

from __future__ import annotations

import csv
import re
from importlib.metadata import version
from pathlib import Path

import mido
import pytest
import typer
from typer.core import TyperGroup, TyperOption

from bridge.cli.app import app
from bridge.cli.cautions import cautions
from cli.commands import run_here, started
from demo_run import OUT, Demo


def test_version_and_help(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """--version tells the installed version; each --help ends well and names the options."""
    assert run_here(capsys, monkeypatch, "--version") == (0, f"reedwire {version('reedwire')}\n", "")
    status, out, _ = run_here(capsys, monkeypatch, "--help")
    assert status == 0
    for command, option in (
        ("demo", "--fast"),
        ("play", "--seconds"),
        ("transcribe", "--out"),
        ("devices", "--help"),
        ("check", "--save"),
        ("panic", "--midi"),
    ):
        assert command in out
        status, text, _ = run_here(capsys, monkeypatch, command, "--help")
        assert status == 0
        assert option in text
    for command in ("demo", "play", "transcribe"):
        _, text, _ = run_here(capsys, monkeypatch, command, "--help")
        for option in ("--harp", "--harp-file", "--position", "--scale", "--a4", "--follower", "--preset", "--set"):
            assert option in text


def test_the_list_of_commands_fits_a_terminal_of_80_columns(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """No line is cut off with dots, neither there nor in that of the edits; edit stands by rebuild."""
    monkeypatch.setenv("COLUMNS", "80")
    _, out, _ = run_here(capsys, monkeypatch, "--help")
    names = [line.split()[0] for line in out.split("Commands:")[1].splitlines() if line.strip()]
    assert names[names.index("rebuild") + 1] == "edit"
    assert len(names) == len(set(names)) == len(app.registered_commands) + len(app.registered_groups)
    for words in (("--help",), ("edit", "--help")):
        assert "..." not in run_here(capsys, monkeypatch, *words)[1].split("Commands:")[1]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["play", "--a4", "44"], "--a4: found '44', allowed: a number from 400.0 to 480.0"),
        (["play", "--a4", "abc"], "--a4: found 'abc', allowed: a number from 400.0 to 480.0"),
        (["play", "--harp", "H"], "--harp: found 'H', allowed: low-C, low-Db, "),
        (["play", "--harps", "C,H"], "of which 'H' is none: low-C, low-Db, "),
        (["play", "--harps", "C,A", "--harp", "C"], "harp.harps (--harps) was given together with harp.key (--harp)."),
        (["transcribe", "x.wav", "--out", "takes", "--harp-file", "no.yaml"], "no.yaml: cannot be read"),
        (["demo", "--harp-file", "no.yaml", "--a4", "443"], "together with harp.a4_hz (--a4). A harp file says that"),
        (["check", "--file", "x.wav", "--harp-file", "mine"], "a harp file, which ends in .yaml"),
        (["play", "--preset", "nosuch"], "no such preset"),
        (["play", "--set", "harp.a4=442"], "harp.a4_hz (the nearest)"),
        (["play", "--osc", "nowhere"], "found 'nowhere', allowed: HOST:PORT, such as"),
        (["play", "--input", "missing.wav", "--midi", "none"], "missing.wav: does not exist"),
        (["transcribe", "missing.wav", "--out", "takes"], "missing.wav: does not exist"),
        (["demo", "--position", "13"], "--position: found '13', allowed: 1 to 12, or first"),
        (["transcribe", "x.wav", "--out", "file"], "file is a file, not a folder."),
        (["transcribe", "x.wav", "--out", "file/below"], "file is a file, not a folder."),
        *((["panic", "--midi", name], "needs a port that is there") for name in ("auto", "virtual", "none")),
        (["play", "--unknown"], "No such option"),
        (["transcribe", "--out", "takes"], "Missing argument"),
    ],
)
def test_what_cannot_be_done_gets_one_message_and_status_2(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    words: list[str],
    said: str,
) -> None:
    """A wrong request ends with status 2 and a message in plain words, never a traceback."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "file").touch()
    status, out, err = run_here(capsys, monkeypatch, *words)
    assert status == 2
    assert said in err
    assert "Traceback" not in out + err


def test_several_faults_have_a_line_each(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """A preset with three faults is answered with three lines in its order; status 2."""
    file = tmp_path / "mine.yaml"
    file.write_text("harp:\n  kee: C\n  a4_hz: 300\nsend: 3\n", encoding="utf-8")
    status, out, err = run_here(capsys, monkeypatch, "play", "--preset", str(file))
    assert (status, out) == (2, "")
    starts = [f"reedwire: {file}:{place}: found" for place in ("2: harp.kee", "3: harp.a4_hz", "4: send")]
    lines = err.splitlines()
    assert len(lines) == 3
    assert all(line.startswith(start) for line, start in zip(lines, starts, strict=True))
    assert "(pitch of A4 on this harp, Hz)" in lines[1]


def test_the_demo_leaves_a_take_and_says_what_next(demo: Demo) -> None:
    """Without a terminal the demo prints a line for each note, without escape codes, and says where the files lie."""
    said, folder = demo.said, demo.take
    assert "\x1b" not in said.out + said.err
    with (folder / "notes.csv").open(newline="", encoding="utf-8") as file:
        notes = list(csv.DictReader(file))
    told = [line for line in said.out.splitlines() if " degree " in line and "cents" in line]
    assert len(told) == len(notes) > 30
    # Each with its hole as tab: breath, hole, overblow, bend, doubt.
    assert all(re.match(r" *[\d.]+ s  \S+ +[-+]\d+o?'*\?? +", line) for line in told)
    assert f"{len(notes)} notes" in said.out
    assert f"The take lies in {OUT / folder.name}" in said.out
    # It makes no sound, says so before and after, and what to type.
    assert said.out.splitlines()[0] == "The demo is silent by itself; at its end it says how to hear it."
    assert f"fluidsynth -ni /usr/share/sounds/sf2/FluidR3_GM.sf2 {OUT / folder.name}/performance.mid" in said.out
    assert "play --harp C " in said.out[said.out.index("Next:") :]
    ons = [message for message in mido.MidiFile(folder / "performance.mid") if message.type == "note_on"]
    assert len([message for message in ons if message.velocity > 0]) == len(notes)


def test_play_takes_a_file_shows_cautions_and_keeps_the_take(tone: Path, tmp_path: Path) -> None:
    """A sound file that goes out is played like a microphone, with a caution about what it sounds; the take is kept."""
    words = ("--midi", "none", "--osc", "127.0.0.1:9", "--set", "send.osc.listen=none", "--take", "kept")
    run = started("play", "--input", tone, *words, cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    hearing, advice = run.stderr.splitlines()
    assert hearing.startswith("Hearing: 85 dBA for 8 hours")  # NIOSH 98-126
    assert "qualified person" in advice
    assert "B4   -3     degree 3" in run.stdout
    assert "1 note in 1.2 s." in run.stdout
    (folder,) = (tmp_path / "kept").iterdir()
    assert (folder / "sound.wav").stat().st_size > 48000


def test_a_file_that_goes_nowhere_needs_no_caution(tone: Path, tmp_path: Path) -> None:
    """Nobody plays and nothing can sound: standard error stays empty."""
    run = started("play", "--input", tone, "--midi", "none", "--osc", "none", cwd=tmp_path)
    assert (run.returncode, run.stderr) == (0, "")


@pytest.mark.parametrize("wrong", [("--input", "no such card"), ("--midi", "no such port"), ("--input", "missing.wav")])
def test_no_caution_stands_before_what_cannot_be_opened(wrong: tuple[str, str], tmp_path: Path) -> None:
    """An input or a port that is not there is the only thing said, in one line."""
    run = started("play", *wrong, "--set", "send.osc.listen=none", cwd=tmp_path)
    assert run.returncode == 2
    (line,) = (run.stdout + run.stderr).splitlines()
    assert line.startswith("reedwire: ")


def test_who_plays_is_told_of_howl_and_breath_and_who_only_sends_of_hearing() -> None:
    """Each caution is for those whom it concerns; every one fits a terminal 80 columns wide."""
    everything = cautions(played=True, sent=False)
    for word in ("howl", "85 dBA", "Light-headed", "qualified person"):
        assert sum(word in line for line in everything) == 1
    assert not any("Light-headed" in line or "howl" in line for line in cautions(played=False, sent=True))
    assert cautions(played=False, sent=False) == ()
    assert max(map(len, everything)) < 80


def test_every_help_text_is_of_one_style() -> None:
    """Each option's help is sentences: it begins with a capital (or a number) and ends with one full stop."""
    group = typer.main.get_command(app)
    assert isinstance(group, TyperGroup)
    texts = [str(command.help) for command in group.commands.values()]
    for command in (group, *group.commands.values()):
        texts += [option.help for option in command.params if isinstance(option, TyperOption) and option.help]
    assert len(texts) > 20
    for text in texts:
        assert re.match(r"[A-Z0-9]", text), text
        assert re.search(r"[^.]\.$", text), text


def test_play_ends_after_the_seconds_it_was_given(tone: Path, tmp_path: Path) -> None:
    """--seconds ends the performance in the middle, the sounding note with it."""
    run = started("play", "--input", tone, "--midi", "none", "--osc", "none", "--seconds", "0.6", cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    assert "1 note in 0.6 s." in run.stdout


def test_devices_lists_or_says_that_there_is_nothing(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sound devices and MIDI ports of each direction have their heading, with what there is or the word none."""
    status, out, _ = run_here(capsys, monkeypatch, "devices")
    assert status == 0
    headings = []
    for part in out.split("\n\n"):
        first, *rest = part.strip().splitlines()
        headings.append(first)
        assert rest
    assert headings == [
        "Sound inputs, for --input:",
        "Sound outputs, for check --output:",
        "MIDI ports, for --midi:",
        "MIDI ports that a footswitch may come in by, for --footswitch:",
    ]
