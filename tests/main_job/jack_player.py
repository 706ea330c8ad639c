"""A program of the tests: a JACK client that plays a sound into a microphone's place and hears MIDI.

    python jack_player.py SOUND.npy

``SOUND.npy`` holds float32 samples, shape (n,). Its ports are ``player:sound``, ``player:midi`` and ``player:pedal``,
which sends MIDI. Each line of standard input is an order: ``connect OUT IN`` joins two ports as soon as both are there,
``keep OUT IN`` does so again whenever they are there and not joined, ``play`` begins the sound, ``loop`` begins it and
goes on from its beginning again and again, ``send HEX`` sends a MIDI message, ``unplug`` takes the pedal's port away,
``plug`` brings it back, ``deaf`` takes the port that hears MIDI away, ``hear`` brings it back, ``end`` ends the
program. It tells on standard output, one JSON object a line: ``{"is": ...}`` with ``ready``, ``connected``, ``placed``
(``place`` samples had been sent at JACK frame ``at``: at the beginning, and again wherever the sound server was late
and left frames out), ``played`` (the sound is over, ``xruns`` counted meanwhile) or ``midi`` with the message in
hex, ``at`` the JACK frame at which it came.
"""

from __future__ import annotations

import gc
import json
import queue
import re
import signal
import sys
import threading
import time
from contextlib import suppress

import jack
import numpy as np

NAME = "player"
_POLL_S = 0.02


class Player:
    """Plays ``samples`` once asked to, and keeps every MIDI message that comes."""

    def __init__(self, samples: np.ndarray) -> None:
        self.client = jack.Client(NAME, no_start_server=True, use_exact_name=True)
        self.heard: queue.SimpleQueue[tuple[int, bytes]] = queue.SimpleQueue()
        self.xruns = 0
        self.place: int | None = None
        self.loops = False
        self.placed: queue.SimpleQueue[tuple[int, int]] = queue.SimpleQueue()
        self._sent = 0
        self._offset: int | None = None
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

    def listen(self, *, there: bool) -> None:
        """Take the port that hears MIDI away, or bring it back."""
        if there:
            self._midi = self.client.midi_inports.register("midi")
        else:
            midi, self._midi = self._midi, None
            midi.unregister()

    def _process(self, frames: int) -> None:
        now = self.client.last_frame_time
        pedal = self._pedal
        if pedal is not None:
            pedal.clear_buffer()
            if not self._presses.empty():
                pedal.write_midi_event(0, self._presses.get())
        midi = self._midi
        if midi is not None:
            for offset, data in midi.incoming_midi_events():
                self.heard.put((now + offset, bytes(data)))
        out = self._sound.get_array()
        out[:] = 0.0
        if self.place is None:
            return
        if now - self._sent != self._offset:
            self._offset = now - self._sent
            self.placed.put((self._sent, now))
        self._sent += frames
        part = self._samples[self.place : self.place + frames]
        out[: len(part)] = part
        self.place += frames
        if self.loops and self.over:
            self.place = 0

    def _xrun(self, _delayed_us: float) -> None:
        if self.place is not None and not self.over:
            self.xruns += 1


def tell(**what: object) -> None:
    """One line to the test."""
    sys.stdout.write(json.dumps(what) + "\n")
    sys.stdout.flush()


def act(player: Player, word: str, names: list[str]) -> None:
    """Do what one order says of sound or pedal."""
    if word in ("play", "loop"):
        player.loops = word == "loop"
        player.place = 0
    elif word in ("deaf", "hear"):
        player.listen(there=word == "hear")
    elif word == "send":
        player.press(bytes.fromhex(names[0]))
    else:
        player.plug(there=word == "plug")


def obey(player: Player, orders: queue.SimpleQueue[str]) -> None:
    """Do what comes in until ``end``."""
    wanted: list[tuple[str, str]] = []
    kept: list[tuple[str, str]] = []
    told_over = False
    while True:
        tell_heard(player)
        for pair in list(wanted):
            ports = [player.client.get_ports("^" + re.escape(name)) for name in pair]
            if all(ports):
                player.client.connect(ports[0][0], ports[1][0])
                wanted.remove(pair)
                tell(**{"is": "connected", "ports": pair})
        for out, into in kept:
            keep_joined(player.client, out, into)
        if player.over and not told_over:
            told_over = True
            tell(**{"is": "played", "xruns": player.xruns})
        try:
            word, *names = orders.get(timeout=_POLL_S).split()
        except queue.Empty:
            continue
        if word == "connect":
            wanted.append((names[0], names[1]))
        elif word == "keep":
            kept.append((names[0], names[1]))
        elif word == "end":
            break
        else:
            act(player, word, names)
    # JACK hands messages over once a period: two more periods bring what is still on its way.
    time.sleep(3 * player.client.blocksize / player.client.samplerate)
    tell_heard(player)
    tell(**{"is": "ended", "xruns": player.xruns})


def keep_joined(client: jack.Client, out: str, into: str) -> None:
    """Join two ports that are there and are not joined; one that goes away at that moment is no fault."""
    outs, ins = (client.get_ports("^" + re.escape(name)) for name in (out, into))
    if outs and ins and outs[0] not in client.get_all_connections(ins[0]):
        with suppress(jack.JackError):
            client.connect(outs[0], ins[0])


def tell_heard(player: Player) -> None:
    """Tell every message that has come since, and where the sound is."""
    while not player.heard.empty():
        at, data = player.heard.get()
        tell(**{"is": "midi", "data": data.hex(), "at": at})
    while not player.placed.empty():
        place, at = player.placed.get()
        tell(**{"is": "placed", "place": place, "at": at})


def main() -> None:
    """Be the program."""
    # The callback must never wait long for the thread that tells, nor for garbage.
    sys.setswitchinterval(0.0005)
    gc.freeze()
    gc.disable()
    player = Player(np.load(sys.argv[1]))
    orders: queue.SimpleQueue[str] = queue.SimpleQueue()

    def listen() -> None:
        for line in sys.stdin:
            orders.put(line)
        orders.put("end")

    threading.Thread(target=listen, daemon=True).start()
    # A client that dies without a word leaves its server unable to end well.
    signal.signal(signal.SIGTERM, lambda _number, _frame: orders.put("end"))
    with player.client:
        tell(**{"is": "ready"})
        obey(player, orders)
    player.client.close()


if __name__ == "__main__":
    main()
