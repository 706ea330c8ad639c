"""The Pure Data voice of ``shared/receivers`` at a port of the test, recording itself into a file.

It runs without a sound card, by the machine's clock. It is asked by a datagram to close its file and end, and is ended
by its own process id should it not.
"""

from __future__ import annotations

import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from main_job.command import free_port
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


@contextmanager
def pure_data(folder: Path) -> Iterator[int]:
    """Pd with ``reed_voice.pd``, recording into ``folder/voice.wav`` until the block ends; yields its port."""
    pd, port, stop = require("pd"), free_port(), free_port()
    patch = (_VOICES / "reed_voice.pd").read_text(encoding="utf-8")
    assert patch.count(" 9000 ") == 1
    (folder / "reed_voice.pd").write_text(patch.replace(" 9000 ", f" {port} "), encoding="utf-8")
    recorder = _PD_RECORDER.format(recording=folder / "voice.wav", stop=stop)
    (folder / "recorder.pd").write_text(recorder, encoding="utf-8")
    command = [pd, "-nogui", "-stderr", "-noprefs", "-noaudio", "-nomidi", "-r", str(RATE)]
    log = folder / "receiver.txt"
    with (
        log.open("wb") as said,
        running([*command, "-open", "recorder.pd"], cwd=folder, stdout=said, stderr=said) as process,
    ):

        def alive() -> bool:
            return process.poll() is None

        def ready() -> bool:
            return "recorder: bang" in log.read_text(encoding="utf-8", errors="replace")

        _or_what_it_said("the receiver is ready", ready, alive, log)
        yield port
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
            asking.sendto(b"stop;\n", ("127.0.0.1", stop))
        _or_what_it_said("the receiver has ended", lambda: not alive(), lambda: True, log)


def _or_what_it_said(what: str, holds: Callable[[], bool], alive: Callable[[], bool], log: Path) -> None:
    """Wait as ``wait_until`` does; a failure carries what the receiver said."""
    try:
        wait_until(what, holds, alive)
    except AssertionError as error:
        error.add_note(log.read_text(encoding="utf-8", errors="replace"))
        raise
