"""Moving one value alone up and down its whole range, so that a synth can learn its controller."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import get_args

from bridge import __version__
from bridge.base.clock import WallClock
from bridge.base.errors import UserError
from bridge.base.events import Inflection, NoteOff, NoteOn
from bridge.send import midi_messages as midi
from bridge.send.kept_port import PortNews
from bridge.send.members import Channels
from bridge.send.midi_output import MessagePort, MidiOutput, never_any
from bridge.send.midi_port import MidiPort
from bridge.send.midi_settings import MidiSettings, Thinned
from bridge.send.midi_system import CLIENT_NAME
from bridge.send.osc_output import OscOutput
from bridge.send.output import Output, Outputs
from bridge.send.pitch import SentPitch
from bridge.send.settings import SendSettings

#: Names of what can be swept.
NAMES: tuple[Thinned, ...] = get_args(Thinned)
#: What settings call a port of our own, which hears nobody until it is joined.
OWN_PORTS = ("auto", "virtual")
#: Once up and down, seconds: slow enough to be seen, quick enough to be noticed (common practice, no source).
ROUND_S = 4.0
#: Between two values, and between the beginning of a note and the first, seconds.
_STEP_S, _LEAD_S = 0.02, 1.0
_NOTE_ID, _MIDI_NOTE, _VELOCITY = 1, 60, 0.3
#: Values at rest: a middle breath can be heard, and a middle brightness is what receivers begin with (RP-021: 64).
_REST = Inflection(_NOTE_ID, 0.0, 0.0, 0.0, "1", 0.0, 0.0, 0.8, 0.5)
#: Where receivers have expression when they are reset (RP-015); the breath controller itself then stands at 0.
_EXPRESSION = 11
_LOW = {"lean": -1.0, "bend": -1.0}


def sweep_name(name: str, settings: SendSettings) -> Thinned:
    """``name`` as one that can be swept. Raises UserError when there is no such value or its controller is off."""
    known = next((each for each in NAMES if each == name), None)
    if known is None:
        raise UserError(f"There is nothing called {name!r} to sweep. Choose one of: {', '.join(NAMES)}.")
    if settings.midi.port == settings.osc.to == "none":
        raise UserError("Neither MIDI nor OSC is on, so nothing can be sent. Give --midi PORT or --osc HOST:PORT.")
    if settings.midi.port != "none" and known != "bend" and known not in settings.midi.values:
        raise UserError(
            f"send.midi.{known} is off. Give it a controller, such as --set send.midi.{known}=20, or --midi none."
        )
    return known


def sweep_words(name: Thinned, settings: SendSettings, *, has_midi: bool = True) -> list[str]:
    """What will be sent, a line for each output; ``has_midi`` says that there is a MIDI system to send it to."""
    lines = []
    if settings.midi.port != "none" and has_midi:
        own = settings.midi.port in OWN_PORTS
        port = f"our own MIDI port, {CLIENT_NAME}" if own else f"MIDI port {settings.midi.port}"
        lines.append(f"To {port}: {_midi_words(name, settings.midi)}.")
    if settings.osc.to != "none":
        span = f"{_LOW.get(name, 0.0):g} to 1" if name != "bend" else f"{_bend_words(settings.midi)} in cents"
        lines.append(f"OSC to {settings.osc.to}: {name} in /reedwire/inflect of a quiet note, {span}.")
    return lines


def sweep_outputs(
    name: Thinned,
    settings: SendSettings,
    port: MidiPort | None,
    *,
    note: bool,
    on_failure: Callable[[str, Exception], None],
) -> Outputs:
    """MIDI into ``port``, if there is one, and OSC as set, not yet open; nothing but ``name`` moves on them."""
    outputs: list[Output] = []
    pitch = SentPitch()
    if port is not None:
        outputs.append(midi_alone(name, settings.midi, port, port.attend, note=note))
    if settings.osc.to != "none":
        outputs.append(OscOutput(settings.osc, pitch, __version__))
    return Outputs(outputs, on_failure, pitch)


def midi_alone(
    name: Thinned,
    settings: MidiSettings,
    port: MessagePort,
    news: Callable[[float], PortNews] = never_any,
    *,
    note: bool,
) -> MidiOutput:
    """A MIDI output whose other controllers are off; without ``note`` nothing but ``name`` leaves it.

    A synth that is learning takes the first controller that comes, be it one of those that set the bend range. A note
    that is held keeps its breath, without which it may be silent.
    """
    kept = {name, "breath"} if note else {name}
    off: dict[str, object] = {each: None for each in settings.values if each not in kept}
    fine = tuple(each for each in settings.values if each in kept and settings.is_fine(each))
    alone = settings.model_copy(update={**off, "fourteen_bit": fine})
    return MidiOutput(alone, SentPitch(), port if note else _OnlyOne(port, alone), news)


def run_sweep(
    name: Thinned,
    settings: SendSettings,
    outputs: Outputs,
    *,
    seconds: float,
    clock: WallClock,
    stopped: Callable[[], bool],
) -> None:
    """Move ``name`` for so many seconds or until ``stopped``; then all is neutral, and every note has ended.

    The ``outputs`` are open, and closed here.
    """
    try:
        begun = clock.now()
        outputs.send(NoteOn(_NOTE_ID, 0.0, 0.0, _MIDI_NOTE, _VELOCITY, _moved(name, settings, 0.5, 0.0)))
        while not stopped() and (passed := clock.now() - begun) < seconds + _LEAD_S:
            if passed >= _LEAD_S:
                outputs.send(_moved(name, settings, sweep_at(passed - _LEAD_S), passed))
            outputs.attend(clock.now())
            clock.sleep(_STEP_S)
        # A second later for the outputs: what they thin or hold back waits for no neutral value.
        end = clock.now() - begun + 1.0
        outputs.send(replace(_neutral(name, settings.midi), time_s=end, ready_s=end))
        outputs.send(NoteOff(_NOTE_ID, end, end))
    finally:
        outputs.close()


def sweep_at(seconds: float) -> float:
    """Place in the range, 0..1: from the middle up, down, and up again in a straight line, :data:`ROUND_S` a round."""
    place = (seconds / ROUND_S + 0.25) % 1.0
    return 2.0 * min(place, 1.0 - place)


def _moved(name: Thinned, settings: SendSettings, part: float, time_s: float) -> Inflection:
    """All at rest but ``name``, which is at that ``part`` of its range."""
    low = _LOW.get(name, 0.0)
    value = low + (1.0 - low) * part
    at = replace(_REST, time_s=time_s, ready_s=time_s)
    return _with(at, name, value * _bend_cents(settings.midi) if name == "bend" else value)


def _neutral(name: Thinned, settings: MidiSettings) -> Inflection:
    """Where ``name`` is left behind."""
    if name == "breath":
        is_expression = not settings.breath_is_pressure and settings.breath == _EXPRESSION
        return replace(_REST, breath=1.0 if is_expression else 0.0)
    return _REST


def _with(at: Inflection, name: Thinned, value: float) -> Inflection:
    match name:
        case "bend":
            return replace(at, bend_cents=value)
        case "breath":
            return replace(at, breath=value)
        case "bright":
            return replace(at, bright=value)
        case "blueness":
            return replace(at, blueness=value)
        case "lean":
            return replace(at, lean=value)


def _bend_cents(settings: MidiSettings) -> float:
    return 100.0 * settings.sent_bend_range


def _bend_words(settings: MidiSettings) -> str:
    return f"{-_bend_cents(settings):.0f} to {_bend_cents(settings):.0f}"


def _midi_words(name: Thinned, settings: MidiSettings) -> str:
    channels = Channels(settings)
    of_note = name in {"bend", "breath", "bright"}
    place = f"channel {channels.members[0] if of_note else channels.manager}"
    if name == "bend":
        return f"pitch bend on {place}, {_bend_words(settings)} cents"
    if name == "breath" and settings.breath_is_pressure:
        return f"{name} as channel pressure on {place}, 0 to 127"
    number = settings.controllers[name]
    if settings.is_fine(name):
        return f"{name} as controllers {number} and {number + midi.PAIRED_BELOW} on {place}, 0 to 16383"
    return f"{name} as controller {number} on {place}, 0 to 127"


class _OnlyOne:
    """A port that lets nothing through but what the one controller of ``settings`` sends, and the reset at the end."""

    def __init__(self, port: MessagePort, settings: MidiSettings) -> None:
        numbers = set(settings.controllers.values())
        self._port = port
        self._numbers = numbers | {number + midi.PAIRED_BELOW for number in numbers} | {midi.RESET_CONTROLLERS}

    def open(self) -> None:
        """Open the port."""
        self._port.open()

    def send(self, data: bytes) -> None:
        """Send it if it is of the controller, or pressure, which nothing but the breath is sent as."""
        kind = data[0] & 0xF0
        if (
            kind == midi.Kind.CONTROL.value.status and data[1] in self._numbers
        ) or kind == midi.Kind.PRESSURE.value.status:
            self._port.send(data)

    def close(self) -> None:
        """Close the port."""
        self._port.close()
