"""How ``play`` and ``demo`` begin and end: what they say of the take, of losses and of a stop before the start."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from math import inf
from pathlib import Path
from types import ModuleType

import pytest
import typer

from bridge.base.records import TakeStopped
from bridge.capture.sound_file import SoundFile
from bridge.capture.source import Source
from bridge.cli.main import main
from bridge.cli.performing import end, perform, tell_trouble
from bridge.wiring.live import LiveReport
from bridge.wiring.settings import load_settings
from demo_run import OUT, Demo

WHOLE = LiveReport(3, 2.0, Path("takes/one"))
FULL = "No space left on device"
GONE = LiveReport(3, 2.0, Path("takes/one"), complete=False, stopped=TakeStopped(inf, "No such file or directory"))
NOT_BEGUN = LiveReport(3, 2.0, Path("takes/one"), complete=False, stopped=TakeStopped(0.0, FULL))


def _demo(tmp_path: Path, *more: str) -> subprocess.CompletedProcess[str]:
    # Neither MIDI nor commands by OSC are ruled out: so whoever types it for the first time does.
    command = ["-m", "bridge.cli.main", "demo", "--fast"]
    return subprocess.run(
        [sys.executable, *command, "--out", "mine", *more],
        check=False,
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=120,
        stdin=subprocess.DEVNULL,
    )


def test_the_demo_lists_the_files_that_are_there(tmp_path: Path) -> None:
    """Without OSC it says that none was sent; with the sound not kept, no sound is listed, and all that is exists."""
    run = _demo(tmp_path, "--osc", "none", "--set", "takes.keep_sound=false")
    assert run.returncode == 0, run.stderr
    assert "No OSC was sent." in run.stdout
    (folder,) = (tmp_path / "mine").iterdir()
    listed = run.stdout[run.stdout.index("The take lies in") : run.stdout.rindex("The demo is")].splitlines()[1:]
    names = {line.split()[0] for line in listed}
    assert names == {path.name for path in folder.iterdir()} - {"take.yaml"}
    assert "sound.wav" not in run.stdout


def test_where_osc_went_is_told(demo: Demo) -> None:
    """The address is named, and the sound that is kept is listed."""
    said = demo.said.out
    assert "OSC went to 127.0.0.1:9." in said
    assert "  sound.wav " in said
    assert re.search(rf"Or play {OUT}/.*/sound\.wav, the harmonica itself\.", said)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT])
def test_a_stop_before_the_start_is_one_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, number: signal.Signals
) -> None:
    """Asked to stop while the source is made, it opens nothing, says so in one line, and has the shell's status 130."""

    def make() -> Source:
        os.kill(os.getpid(), number)
        return SoundFile("never opened.wav")

    before = signal.getsignal(number)
    with pytest.raises(typer.Exit) as caught:
        perform(load_settings(), make, title="demo", take=tmp_path)
    assert caught.value.exit_code == 130
    assert capsys.readouterr() == ("", "The demo was stopped before it began.\n")
    assert list(tmp_path.iterdir()) == []
    assert signal.getsignal(number) == before


@pytest.mark.parametrize(
    ("report", "said", "fails"),
    [
        (WHOLE, [], False),
        (LiveReport(3, 2.0, Path("takes/one"), lost=4), ["4 records did not reach the take"], False),
        (LiveReport(3, 2.0, None, missed_s=0.1), ["0.10 s of the sound was lost before it was heard"], False),
        (LiveReport(3, 2.0, None, dropouts=1), ["said once that it could not keep up"], False),
        (LiveReport(3, 2.0, None, dropouts=4), ["said 4 times that it could not keep up"], False),
        (LiveReport(3, 2.0, Path("takes/one"), complete=False), ["is not complete", "Nothing of it is there"], True),
        (GONE, ["is gone: No such file or directory.", "Nothing of it is there"], True),
        (NOT_BEGUN, ["could not be begun: No space left on device.", "Nothing of it is there"], True),
        (LiveReport(3, 2.0, None, broke_off=True), [], True),
    ],
)
def test_trouble_is_told_and_a_failure_ends_with_status_1(
    capsys: pytest.CaptureFixture[str], report: LiveReport, said: list[str], *, fails: bool
) -> None:
    """Each loss has its line; only a take that is not whole or a sound card that went away fail."""
    tell_trouble(report)
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == len(said)
    assert all(words in line for words, line in zip(said, lines, strict=True))
    if fails:
        with pytest.raises(typer.Exit) as caught:
            end(report)
        assert caught.value.exit_code == 1
    else:
        end(report)


def test_a_take_that_was_begun_can_be_recovered(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """The command is named only where there is something for it: a disk that was full at the beginning has nothing."""
    (tmp_path / "take.yaml").write_text("format: 1\n")
    tell_trouble(LiveReport(3, 2.0, tmp_path, complete=False))
    assert f"given room on the disk, is made by: reedwire recover {tmp_path}\n" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("at_s", "said"), [(1.25, f"stops after 1.2 s of 2.0 s: {FULL}"), (inf, f"is not complete: {FULL}")]
)
def test_a_take_that_is_not_whole_says_since_when_and_why(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, at_s: float, said: str
) -> None:
    """The time is that of the playing; where only what is made at the end is missing there is none."""
    (tmp_path / "take.yaml").write_text("format: 1\n")
    tell_trouble(LiveReport(3, 2.0, tmp_path, complete=False, stopped=TakeStopped(at_s, FULL)))
    line = capsys.readouterr().err.splitlines()[0]
    assert line == f"The take in {tmp_path} {said}. Some of its files are missing or short."


def test_a_stop_while_the_program_loads_is_one_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C before the commands are there ends with status 130 and a line, not with a traceback."""

    class Loading(ModuleType):
        def __getattr__(self, _name: str) -> object:
            raise KeyboardInterrupt

    monkeypatch.setitem(sys.modules, "bridge.cli.app", Loading("bridge.cli.app"))
    with pytest.raises(SystemExit) as caught:
        main()
    assert caught.value.code == 130
    assert capsys.readouterr() == ("", "reedwire: stopped.\n")
