"""The synth's own sound coming back: fluidsynth plays what we send, as it is sent."""

from __future__ import annotations

import ctypes
import ctypes.util
from collections import deque
from collections.abc import Sequence
from types import TracebackType
from typing import Self

import numpy as np
from numpy.typing import NDArray

from bridge.base.events import Event
from bridge.send.midi_output import MidiOutput
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from parts import require
from sounds.sampled import RATE

#: General MIDI Level 1 sound set, programs 81 and 23 counted from 1.
LEAD, HARMONICA = 80, 22
_NUMBERS = {b"synth.sample-rate": float(RATE), b"synth.gain": 1.2}
_SWITCHES = {b"synth.reverb.active": 0, b"synth.chorus.active": 0, b"synth.dynamic-sample-loading": 1}
_FLOATS = ctypes.POINTER(ctypes.c_float)
#: Loudness is that of all within so many dB of the peak.
_SOUNDS_DB = 40.0
#: With an octave of bend no glide needs a second note.
WIDE = MidiSettings(bend_range=12)
#: The same for a synth whose level does not follow the breath.
WITHOUT_BREATH = MidiSettings(bend_range=12, breath=None)


class LiveSynth:
    """One voice of fluidsynth, dry, 48 kHz mono, at the other end of our MIDI output.

    A context manager, since it holds memory outside Python's. Skips the test when fluidsynth or its sound font is
    missing.
    """

    def __init__(self, program: int, settings: MidiSettings) -> None:
        require("fluidsynth")
        soundfont = require("soundfont")
        self._fluid = ctypes.CDLL(ctypes.util.find_library("fluidsynth"))
        self._settings = self._made("new_fluid_settings")
        for name, number in _NUMBERS.items():
            self._fluid.fluid_settings_setnum(self._settings, name, ctypes.c_double(number))
        for name, switch in _SWITCHES.items():
            self._fluid.fluid_settings_setint(self._settings, name, switch)
        self._synth = self._made("new_fluid_synth", self._settings)
        assert self._fluid.fluid_synth_sfload(self._synth, soundfont.encode(), 1) >= 0
        self._fluid.fluid_synth_program_change(self._synth, 0, program)
        self._waiting: deque[tuple[int, bytes]] = deque()
        self._told = self._at = 0
        self._output = MidiOutput(settings, SentPitch(), self)
        self._output.open()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._fluid.delete_fluid_synth(self._synth)
        self._fluid.delete_fluid_settings(self._settings)

    def tell(self, event: Event) -> None:
        """Send an event, to be played at its ``ready_s``, which must not lie before what was rendered."""
        self._told = round(event.ready_s * RATE)
        self._output.send(event)

    def open(self) -> None:
        """As a port of the MIDI output: nothing to do."""

    def send(self, data: bytes) -> None:
        """As a port of the MIDI output: keep a message until its time has come."""
        self._waiting.append((self._told, data))

    def close(self) -> None:
        """As a port of the MIDI output: nothing to do."""

    def render(self, samples: int) -> NDArray[np.float32]:
        """The next samples of its sound (n,), with the events that were told for them."""
        end, pieces = self._at + samples, []
        while self._waiting and self._waiting[0][0] < end:
            at, data = self._waiting.popleft()
            pieces.append(self._sound(at - self._at))
            self._play(*data)
        pieces.append(self._sound(end - self._at))
        return np.concatenate(pieces)

    def _sound(self, samples: int) -> NDArray[np.float32]:
        left, right = np.zeros((2, max(0, samples)), np.float32)
        ends = (left.ctypes.data_as(_FLOATS), 0, 1, right.ctypes.data_as(_FLOATS), 0, 1)
        self._fluid.fluid_synth_write_float(self._synth, len(left), *ends)
        self._at += len(left)
        return np.asarray(left)

    def _play(self, status: int, first: int, second: int) -> None:
        """One message of three bytes on channel 1, by the table of MIDI 1.0."""
        match status:
            case 0x90:
                self._fluid.fluid_synth_noteon(self._synth, 0, first, second)
            case 0x80:
                self._fluid.fluid_synth_noteoff(self._synth, 0, first)
            case 0xB0:
                self._fluid.fluid_synth_cc(self._synth, 0, first, second)
            case 0xE0:
                self._fluid.fluid_synth_pitch_bend(self._synth, 0, first + 128 * second)
            case _:
                raise AssertionError(f"status {status:02x} was not expected")

    def _made(self, what: str, *of: ctypes.c_void_p) -> ctypes.c_void_p:
        make = getattr(self._fluid, what)
        make.restype = ctypes.c_void_p
        return ctypes.c_void_p(make(*of))


def rendered(events: Sequence[Event], program: int, settings: MidiSettings, samples: int) -> NDArray[np.float32]:
    """What one voice plays of events that are all known, (samples,)."""
    with LiveSynth(program, settings) as synth:
        for event in events:
            synth.tell(event)
        return synth.render(samples)


def gain_for(player: NDArray[np.float32], synth: NDArray[np.float32], level_db: float) -> float:
    """The factor that brings the synth, where it sounds, ``level_db`` from where the player does."""
    return float(_loud(player) / _loud(synth) * 10.0 ** (level_db / 20.0))


def _loud(samples: NDArray[np.float32]) -> float:
    size = np.abs(samples.astype(np.float64))
    return float(np.sqrt(np.mean(size[size > 10.0 ** (-_SOUNDS_DB / 20.0) * np.max(size)] ** 2)))
