"""A program of the tests: a JACK client that records what PortAudio plays, and knows when each sample was heard.

    python jack_recorder.py OUT.npz

It joins PortAudio's first output to itself as soon as that is there. When its standard input ends it writes
``samples``, float32, shape (n,), and ``first``, the JACK frame of the first of them, and ends.
"""

from __future__ import annotations

import sys
import threading
from contextlib import suppress

import jack
import numpy as np

_POLL_S = 0.005


def main() -> None:
    """Be the program."""
    client = jack.Client("recorder", no_start_server=True, use_exact_name=True)
    hears = client.inports.register("hears")
    heard: list[tuple[int, np.ndarray]] = []

    def process(_frames: int) -> None:
        heard.append((client.last_frame_time, hears.get_array().copy()))

    client.set_process_callback(process)
    ended = threading.Event()

    def listen() -> None:
        sys.stdin.read()
        ended.set()

    threading.Thread(target=listen, daemon=True).start()
    with client:
        sys.stdout.write("ready\n")
        sys.stdout.flush()
        while not ended.wait(_POLL_S):
            # A port that goes away at that moment is no fault.
            with suppress(jack.JackError):
                outs = client.get_ports("^PortAudio", is_audio=True, is_output=True)
                if outs and not client.get_all_connections(hears):
                    client.connect(outs[0], hears)
    client.close()
    first = heard[0][0] if heard else 0
    length = heard[-1][0] - first + len(heard[-1][1]) if heard else 0
    samples = np.zeros(length, np.float32)
    for at, block in heard:
        samples[at - first : at - first + len(block)] = block
    np.savez(sys.argv[1], samples=samples, first=first)


if __name__ == "__main__":
    main()
