"""A program of the tests: a JACK client that plays a sound into a microphone's place and hears MIDI.

    python jack_player.py SOUND.npy

``SOUND.npy`` holds float32 samples, shape (n,). Its ports are ``player:sound``, ``player:midi`` and ``player:pedal``,
which sends MIDI. Each line of standard input is an order: ``connect OUT IN`` joins two ports as soon as both are there,
``play`` begins the sound, ``send HEX`` sends a MIDI message, ``unplug`` takes the pedal's port away, ``plug`` brings it
back, ``end`` ends the program. It tells on standard output, one JSON object a line: ``{"is": ...}`` with ``ready``,
``connected``, ``played`` (the sound is over, ``xruns`` counted meanwhile) or ``midi`` with the message in hex.
"""

from __future__ import annotations

import json
import queue
import re
import sys
import threading
import time

import jack
import numpy as np

NAME = "player"
_POLL_S = 0.02


class Player:
    """Plays ``samples`` once asked to, and keeps every MIDI message that comes."""

    def __init__(self, samples: np.ndarray) -> None:
        self.client = jack.Client(NAME, no_start_server=True, use_exact_name=True)
        self.heard: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        self.xruns = 0
        self.place: int | None = None
        self._samples = samples
        self._sound = self.client.outports.register("sound")
        self._midi = self.client.midi_inports.register("midi")
        self._pedal = self.client.midi_outports.register("pedal")
        self._presses: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        self.client.set_process_callback(self._process)
        self.client.set_xrun_callback(self._xrun)

    @property
    def over(self) -> bool:
        """Whether the whole sound has been played."""
        return self.place is not None and self.place >= len(self._samples)

    def press(self, data: bytes) -> None:
        """Send one MIDI message from the pedal, in the next period."""
        self._presses.put(data)

    def plug(self, *, there: bool) -> None:
        """Take the pedal's port away, or bring it back."""
        if there:
            self._pedal = self.client.midi_outports.register("pedal")
        else:
            pedal, self._pedal = self._pedal, None
            pedal.unregister()

    def _process(self, frames: int) -> None:
        pedal = self._pedal
        if pedal is not None:
            pedal.clear_buffer()
            if not self._presses.empty():
                pedal.write_midi_event(0, self._presses.get())
        for _, data in self._midi.incoming_midi_events():
            self.heard.put(bytes(data))
        out = self._sound.get_array()
        out[:] = 0.0
        if self.place is not None:
            part = self._samples[self.place : self.place + frames]
            out[: len(part)] = part
            self.place += frames

    def _xrun(self, _delayed_us: float) -> None:
        if self.place is not None and not self.over:
            self.xruns += 1


def tell(**what: object) -> None:
    """One line to the test."""
    sys.stdout.write(json.dumps(what) + "\n")
    sys.stdout.flush()


def act(player: Player, word: str, names: list[str]) -> None:
    """Do what one order says of sound or pedal."""
    if word == "play":
        player.place = 0
    elif word == "send":
        player.press(bytes.fromhex(names[0]))
    else:
        player.plug(there=word == "plug")


def obey(player: Player, orders: queue.SimpleQueue[str]) -> None:
    """Do what comes in until ``end``."""
    wanted: list[tuple[str, str]] = []
    told_over = False
    while True:
        while not player.heard.empty():
            tell(**{"is": "midi", "data": player.heard.get().hex()})
        for pair in list(wanted):
            ports = [player.client.get_ports("^" + re.escape(name)) for name in pair]
            if all(ports):
                player.client.connect(ports[0][0], ports[1][0])
                wanted.remove(pair)
                tell(**{"is": "connected", "ports": pair})
        if player.over and not told_over:
            told_over = True
            tell(**{"is": "played", "xruns": player.xruns})
        try:
            word, *names = orders.get(timeout=_POLL_S).split()
        except queue.Empty:
            continue
        if word == "connect":
            wanted.append((names[0], names[1]))
        elif word == "end":
            break
        else:
            act(player, word, names)
    # JACK hands messages over once a period: two more periods bring what is still on its way.
    time.sleep(3 * player.client.blocksize / player.client.samplerate)
    while not player.heard.empty():
        tell(**{"is": "midi", "data": player.heard.get().hex()})
    tell(**{"is": "ended"})


def main() -> None:
    """Be the program."""
    player = Player(np.load(sys.argv[1]))
    orders: queue.SimpleQueue[str] = queue.SimpleQueue()

    def listen() -> None:
        for line in sys.stdin:
            orders.put(line)
        orders.put("end")

    threading.Thread(target=listen, daemon=True).start()
    with player.client:
        tell(**{"is": "ready"})
        obey(player, orders)
    player.client.close()


if __name__ == "__main__":
    main()
