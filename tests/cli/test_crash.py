"""A fault of the program: one plain sentence, a bundle without sound, and the log of the session."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from bridge.base.printable import printable
from bridge.send.midi_system import MidiPortInfo
from bridge.wiring.log_file import LOG, session_log, state_folder
from cli.commands import run_here


@pytest.fixture
def state(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A state folder of its own, and a home folder above it; nothing else decides on the log."""
    monkeypatch.delenv("REEDWIRE_LOG", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return tmp_path / "state" / "reedwire"


def fail(*_: object, **__: object) -> None:
    """A fault with the name of the home folder in it."""
    raise ZeroDivisionError(f"in {Path.home()}/tunes")


def test_a_fault_leaves_a_bundle(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, state: Path, tmp_path: Path
) -> None:
    """Status 70 (EX_SOFTWARE, BSD sysexits.h), no traceback on the screen; the bundle names the home only as ~."""
    monkeypatch.setattr("bridge.cli.play.perform", fail)
    status, out, err = run_here(
        capsys, monkeypatch, "play", "--midi", "none", "--a4", "443", "--input", str(_silence(tmp_path))
    )
    assert (status, out) == (70, "")
    assert "Traceback" not in err
    assert "a fault of reedwire itself" in err
    assert "no sound" in err
    (bundle,) = state.glob("crash-*.zip")
    assert printable("~/state/reedwire/" + bundle.name) in err
    with zipfile.ZipFile(bundle) as opened:
        parts = {name: opened.read(name).decode() for name in opened.namelist()}
    assert set(parts) == {"error.txt", "versions.txt", "session.txt"}
    assert "ZeroDivisionError: in ~/tunes" in parts["error.txt"]
    assert "numpy" in parts["versions.txt"]
    assert "harp.a4_hz=443" in parts["session.txt"]
    assert not any(str(tmp_path) in text for text in parts.values())


def test_what_the_system_refused_stands_in_the_log(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, state: Path
) -> None:
    """One line on the screen, and in the log where it came from, should it not have been the output."""

    def refuse() -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr("bridge.cli.panic.list_midi_ports", refuse)
    status, _, err = run_here(capsys, monkeypatch, "panic")
    assert (status, err) == (1, "reedwire: The output cannot be written (Input/output error).\n")
    text = (state / "log").read_text()
    assert "Traceback" in text
    assert "in refuse" in text


def test_where_no_bundle_can_be_written_the_traceback_is_printed(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, state: Path
) -> None:
    """A file lies where the folder should be: the log says so once, and the fault is still told."""
    state.parent.mkdir()
    state.write_text("in the way")
    monkeypatch.setattr("bridge.cli.panic.list_midi_ports", fail)
    status, _, err = run_here(capsys, monkeypatch, "panic")
    assert status == 70
    assert err.count("cannot be written") == 1
    assert "Traceback" in err
    assert "ZeroDivisionError" in err


def test_the_log_tells_what_was_asked_and_what_went_wrong(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, state: Path
) -> None:
    """Version, words and the error; a second session is added."""
    for key in ("H", "X"):
        assert run_here(capsys, monkeypatch, "play", "--harp", key)[0] == 2
    text = (state / "log").read_text()
    assert "asked: play --harp H" in text
    assert "asked: play --harp X" in text
    assert "ERROR" in text
    assert text.count("reedwire 0") == 2


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("panic", "--midi", "nowhere"), "No MIDI port fits 'nowhere'"),
        (("recover", "nowhere"), "nowhere"),
        (("transcribe", "nowhere.wav", "--out", "takes"), "nowhere"),
    ],
    ids=["panic", "recover", "transcribe"],
)
def test_errors_after_which_a_command_goes_on_are_logged_too(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    state: Path,
    tmp_path: Path,
    words: tuple[str, ...],
    told: str,
) -> None:
    """What is said to the user stands in the log as an error, as of a port that went away once it was seen."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("bridge.cli.panic.list_midi_ports", lambda: [MidiPortInfo("JACK", "nowhere")])
    status, _, err = run_here(capsys, monkeypatch, *words)
    assert (status, err.startswith(f"reedwire: {told}")) == (2, True)
    assert "ERROR nowhere" in (state / "log").read_text()


def test_no_folder_is_made_for_a_log_elsewhere(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A name that was mistyped is told; the session goes on without a log."""
    monkeypatch.setenv("REEDWIRE_LOG", str(tmp_path / "no" / "such" / "x.log"))
    told: list[str] = []
    with session_log(["a"], told.append) as recent:
        LOG.info("heard")
    assert "heard" in recent.text()
    assert len(told) == 1
    assert f"make {tmp_path / 'no' / 'such'}, or correct REEDWIRE_LOG" in told[0]
    assert list(tmp_path.iterdir()) == []


def test_the_log_is_limited_and_three_are_kept(state: Path) -> None:
    """Far more than fits: log, log.1 and log.2, none much over half a megabyte."""
    with session_log([], pytest.fail):
        for _ in range(1000):
            LOG.info("%s", "x" * 4000)
    names = sorted(path.name for path in state.iterdir())
    assert names == ["log", "log.1", "log.2"]
    assert all(path.stat().st_size <= 500_000 for path in state.iterdir())


def test_a_log_can_be_elsewhere_or_nowhere(monkeypatch: pytest.MonkeyPatch, state: Path, tmp_path: Path) -> None:
    """REEDWIRE_LOG names a file, or none; afterwards nobody listens any more."""
    before = list(LOG.handlers)
    monkeypatch.setenv("REEDWIRE_LOG", "none")
    with session_log(["a"], pytest.fail) as recent:
        LOG.info("heard")
    assert "heard" in recent.text()
    assert not state.exists()
    monkeypatch.setenv("REEDWIRE_LOG", str(tmp_path / "mine.log"))
    with session_log(["a"], pytest.fail):
        LOG.info("written")
    assert "written" in (tmp_path / "mine.log").read_text()
    assert before == LOG.handlers


def test_the_state_folder_follows_the_platform() -> None:
    """XDG Base Directory Specification: a relative path is to be ignored; macOS has Library/Logs."""
    assert state_folder({"XDG_STATE_HOME": "/x"}) == Path("/x/reedwire")
    assert state_folder({"XDG_STATE_HOME": "x"}, "linux") == Path.home() / ".local/state/reedwire"
    assert state_folder({}, "darwin") == Path.home() / "Library/Logs/reedwire"


def _silence(folder: Path) -> Path:
    """A file that can be opened."""
    import numpy as np
    import soundfile

    path = folder / "a.wav"
    soundfile.write(path, np.zeros(4800), 48000)
    return path
