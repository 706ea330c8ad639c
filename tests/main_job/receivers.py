"""The voices of ``shared/receivers`` at a port of the test, each leaving what it played in a file.

Pure Data runs without a sound card, by the machine's clock, and records itself. SuperCollider has two programs: sclang
runs the script and sends commands to scsynth. On a silent sound card a busy machine loses sound, and with it time; so
sclang is given a stand-in of scsynth that notes its commands as they come, and scsynth itself renders them afterwards.
What the script does, how late sclang is, and what scsynth makes of it are thus real, and no sound card is needed. (The
log then tells of a failed ``ServerShmInterface``: memory shared with scsynth, which the script does not use.)

Each is asked by a datagram to end, and is ended by its own process id should it not.
"""

from __future__ import annotations

import os
import shlex
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from main_job import scsynth_stand_in
from main_job.command import PATIENCE_S, free_port
from main_job.live import wait_until
from parts import require, running

RATE = 48000
_VOICES = Path(__file__).parents[2] / "shared" / "receivers"
#: Records the voice as 32-bit float and takes the message ``stop`` at a port of its own.
_PD_RECORDER = """#N canvas 0 0 400 300 12;
#X obj 20 20 reed_voice;
#X obj 20 50 loadbang;
#X msg 20 80 open -bytes 4 {recording} \\, start;
#X obj 20 110 r~ rw-voice;
#X obj 20 140 writesf~ 1;
#X obj 160 20 netreceive -u {stop} 127.0.0.1;
#X obj 160 50 t b b;
#X msg 160 80 stop;
#X obj 260 80 delay 300;
#X msg 260 110 \\; pd quit;
#X obj 160 140 print recorder;
#X connect 1 0 2 0;
#X connect 1 0 10 0;
#X connect 2 0 4 0;
#X connect 3 0 4 0;
#X connect 5 0 6 0;
#X connect 6 0 7 0;
#X connect 6 1 8 0;
#X connect 7 0 4 0;
#X connect 8 0 9 0;
"""
#: Runs the voice as it is, on a server of the test's, and ends at the message ``/stop``.
_SC_STARTER = """(
Server.program = {stand_in};
s.addr = NetAddr("127.0.0.1", {server});
OSCdef(\\stop, {{ s.quit; 0.exit }}, '/stop');
{script}.load;
)
"""


@contextmanager
def pure_data(folder: Path) -> Iterator[int]:
    """Pd with ``reed_voice.pd``; yields its port, and ``folder/voice.wav`` is there once the block has ended."""
    pd, port, stop = require("pd"), free_port(), free_port()
    patch = (_VOICES / "reed_voice.pd").read_text(encoding="utf-8")
    assert patch.count(" 9000 ") == 1
    (folder / "reed_voice.pd").write_text(patch.replace(" 9000 ", f" {port} "), encoding="utf-8")
    recorder = _PD_RECORDER.format(recording=folder / "voice.wav", stop=stop)
    (folder / "recorder.pd").write_text(recorder, encoding="utf-8")
    command = [pd, "-nogui", "-stderr", "-noprefs", "-noaudio", "-nomidi", "-r", str(RATE), "-open", "recorder.pd"]
    with _receiving(command, folder, os.environ, "recorder: bang", b"stop;\n", stop):
        yield port


@contextmanager
def super_collider(folder: Path) -> Iterator[int]:
    """SuperCollider with ``reed_voice.scd``; otherwise as :func:`pure_data`. The file has two channels."""
    scsynth, sclang, port, score = require("scsynth"), require("sclang"), free_port(), folder / "score.osc"
    stand_in = shlex.join(["exec", sys.executable, scsynth_stand_in.__file__, str(score)])
    starter = _SC_STARTER.format(
        stand_in=_in_sclang(stand_in), server=free_port(), script=_in_sclang(str(_VOICES / "reed_voice.scd"))
    )
    (folder / "starter.scd").write_text(starter, encoding="utf-8")
    # No window, and nothing is read from or written to the developer's own folders. Root must do without the sandbox.
    env = {**os.environ, "QT_QPA_PLATFORM": "offscreen", "QTWEBENGINE_DISABLE_SANDBOX": "1"}
    env["QTWEBENGINE_CHROMIUM_FLAGS"] = "--no-sandbox"
    env |= {name: str(folder) for name in ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_RUNTIME_DIR")}
    command = [sclang, "-D", "-u", str(port), "starter.scd"]
    with _receiving(command, folder, env, "reedwire: listening", b"/stop\0\0\0,\0\0\0", port):
        yield port
    _or_what_it_said("the score is whole", score.exists, lambda: True, folder / "receiver.txt")
    render = [scsynth, "-N", str(score), "_", "voice.wav", str(RATE), "WAV", "float", "-o", "2", "-R", "0"]
    done = subprocess.run(
        render, cwd=folder, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=PATIENCE_S, check=False
    )
    # It goes on after a command that it cannot obey.
    assert done.returncode == 0, done.stdout + done.stderr
    assert "FAILURE" not in done.stdout, done.stdout


def _in_sclang(text: str) -> str:
    """A string of sclang's language: in double quotes, with a backslash before each of those and of its own kind."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


@contextmanager
def _receiving(
    command: list[str], folder: Path, env: Mapping[str, str], word: str, stop: bytes, stop_port: int
) -> Iterator[None]:
    """A receiver that has said ``word`` when the block begins; it is asked to stop, and has ended, when it is left."""
    log = folder / "receiver.txt"
    with log.open("wb") as said, running(command, cwd=folder, env=env, stdout=said, stderr=said) as process:

        def alive() -> bool:
            return process.poll() is None

        def ready() -> bool:
            return word in log.read_text(encoding="utf-8", errors="replace")

        _or_what_it_said("the receiver is ready", ready, alive, log)
        yield
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
            asking.sendto(stop, ("127.0.0.1", stop_port))
        _or_what_it_said("the receiver has ended", lambda: not alive(), lambda: True, log)


def _or_what_it_said(what: str, holds: Callable[[], bool], alive: Callable[[], bool], log: Path) -> None:
    """Wait as ``wait_until`` does; a failure carries what the receiver said."""
    try:
        wait_until(what, holds, alive)
    except AssertionError as error:
        error.add_note(log.read_text(encoding="utf-8", errors="replace"))
        raise
