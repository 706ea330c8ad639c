"""A program of the tests: a JACK client that is the air between loudspeaker and microphone.

    python jack_room.py DELAY GAIN NOISE TONE_HZ

It joins PortAudio's first output to PortAudio's first input whenever they are there, ``DELAY`` samples later and
``GAIN`` times as loud, over white noise of RMS ``NOISE`` and a tone of RMS 0.1 (0 Hz = none). It ends with its standard
input.
"""

from __future__ import annotations

import sys
import threading

import jack
import numpy as np

_POLL_S = 0.01


def main() -> None:
    """Be the program."""
    delay, (gain, noise, tone_hz) = int(sys.argv[1]), map(float, sys.argv[2:5])
    client = jack.Client("room", no_start_server=True, use_exact_name=True)
    hears, sounds = client.inports.register("hears"), client.outports.register("sounds")
    rng = np.random.default_rng(1)
    line = np.zeros(delay)
    sent = 0

    def process(frames: int) -> None:
        nonlocal line, sent
        line = np.concatenate([line, hears.get_array()])
        tone = np.sin(2.0 * np.pi * tone_hz * (sent + np.arange(frames)) / client.samplerate)
        sounds.get_array()[:] = gain * line[:frames] + noise * rng.standard_normal(frames) + 0.1 * np.sqrt(2.0) * tone
        line = line[frames:]
        sent += frames

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
            join(client, sounds, client.get_ports("PortAudio", is_audio=True, is_input=True))
            join(client, hears, client.get_ports("PortAudio", is_audio=True, is_output=True))
    client.close()


def join(client: jack.Client, own: jack.Port, others: list[jack.Port]) -> None:
    """Connect the first of the others, unless it is already or has just gone."""
    if not others or client.get_all_connections(own):
        return
    pair = (own, others[0]) if own.is_output else (others[0], own)
    try:
        client.connect(*pair)
    except jack.JackError:
        return


if __name__ == "__main__":
    main()
