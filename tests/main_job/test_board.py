"""``reedwire board`` as a teacher starts it: what it takes for granted, keeps and refuses."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
import soundfile
import yaml

from bridge.base.resources import resource
from main_job.board_run import board_run, free_tcp_port, look_on
from main_job.command import Said, reedwire
from main_job.live import wait_until
from main_job.osc_ear import OscEar
from sounds.rehearsed import rehearsed


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three seconds of thirds on a C harp."""
    path = tmp_path_factory.mktemp("sound") / "thirds.wav"
    known = rehearsed("C", 1, ["released third"])
    soundfile.write(path, known.samples[: 3 * known.rate], known.rate)
    return path


def _board(sound: Path, cwd: Path, *words: str | Path) -> Said:
    port = str(free_tcp_port())
    alone = ("--no-browser", "--port", port, "--set", "web.wait_s=0")
    return reedwire("board", "--file", sound, "--harp", "C", *alone, *words, cwd=cwd)


def test_it_is_the_classrooms_and_sends_nothing(sound: Path, tmp_path: Path) -> None:
    """The take says which settings were in force: the classroom's, no MIDI, no OSC; and no pupil's voice is kept."""
    said = _board(sound, tmp_path, "--take", "takes")
    assert (said.status, said.accidents) == (0, [])
    assert "Board: http://127.0.0.1:" in said.out
    (take,) = (tmp_path / "takes").iterdir()
    settings = yaml.safe_load((take / "take.yaml").read_text(encoding="utf-8"))["settings"]
    classroom = yaml.safe_load(resource("config", "classroom.yaml").read_text(encoding="utf-8"))
    assert settings["follow"]["confidence"] == classroom["follow"]["confidence"]
    assert (settings["send"]["midi"]["port"], settings["send"]["osc"]["to"]) == ("none", "none")
    assert (take / "curve.csv").is_file()
    assert not (take / "sound.wav").exists()


def test_a_recording_begins_with_the_first_page(sound: Path, tmp_path: Path) -> None:
    """Not a note before; the whole of it after, which ends by itself."""
    with board_run(tmp_path, "--file", str(sound), "--harp", "C") as board:
        waits = f"Waiting for the page at http://127.0.0.1:{board.port}/; without one it begins in 60 s."
        wait_until("it waits", lambda: waits in board.out)
        # Longer than the whole recording.
        time.sleep(4.0)
        assert board.process.poll() is None
        assert board.out.rstrip().endswith(waits)
        look_on(board.port, 1.0, 1)
        board.process.wait(60.0)
    assert board.process.returncode == 0
    assert "It begins." in board.out
    assert board.out.splitlines()[-1].endswith(" notes in 3.0 s.")


def test_another_preset_and_outputs_can_be_asked_for(sound: Path, tmp_path: Path) -> None:
    """Then the notes go out as those of ``play`` do."""
    with OscEar() as ear:
        said = _board(sound, tmp_path, "--preset", "stage", "--osc", f"127.0.0.1:{ear.port}")
        assert said.status == 0
        assert any(message.address == "/reedwire/on" for message in ear.messages)


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("--file", "nowhere.wav"), "nowhere.wav is no file. Give a recording: --file SOUND"),
        (("--file", ".", "--input", "3"), "--file and --input both say where the sound comes from. Give one of them."),
        (
            ("--set", "web.port=80"),
            (
                "--set web.port=80: web.port: found 80, allowed: a whole number from 1024 to 65535 "
                "(port of the board's page)"
            ),
        ),
    ],
)
def test_what_cannot_be_is_told_in_a_line(words: tuple[str, ...], complaint: str, tmp_path: Path) -> None:
    """What was found, what is allowed; status 2."""
    said = reedwire("board", *words, cwd=tmp_path)
    assert said.status == 2
    assert said.complaints == [complaint]
