"""A JACK client in a process of its own that hears MIDI: it prints a line for each message, with the time it came.

``python -m send.jack_ear NAME [PORT]``: it is called NAME and, when PORT is given, joined to that port as soon as there
is one.
"""

from __future__ import annotations

import sys
import threading
import time

import jack

_LOOK_S = 0.02


def say(text: str) -> None:
    """Print one line at once."""
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def end_of_input() -> threading.Event:
    """An event that is set when standard input has ended."""
    ended = threading.Event()

    def read() -> None:
        sys.stdin.read()
        ended.set()

    threading.Thread(target=read, daemon=True).start()
    return ended


def main() -> None:
    """Listen until standard input ends."""
    name, joined_to = sys.argv[1], sys.argv[2] if len(sys.argv) > 2 else None
    jack.set_error_function(lambda _message: None)
    jack.set_info_function(lambda _message: None)
    ear = jack.Client(name, no_start_server=True)
    port = ear.midi_inports.register("in")
    heard: list[tuple[float, str]] = []

    def listen(_frames: int) -> None:
        heard.extend((time.monotonic(), bytes(data).hex(" ").upper()) for _, data in port.incoming_midi_events())

    ear.set_process_callback(listen)
    ended = end_of_input()
    with ear:
        say("ready")
        while not ended.wait(_LOOK_S):
            if joined_to is not None and ear.get_ports(joined_to, is_midi=True) and not port.connections:
                ear.connect(joined_to, port)
                say(f"joined {time.monotonic():.3f}")
            while heard:
                at_s, data = heard.pop(0)
                say(f"{at_s:.3f} {data}")


if __name__ == "__main__":
    main()
