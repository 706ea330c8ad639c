"""Which sound device is meant: by number or by part of its name, never by guessing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from bridge.base.errors import UserError


@dataclass(frozen=True, slots=True)
class SoundDevice:
    """A device as the sound system lists it; ``host_api`` is the system that drives it (ALSA, JACK, Core Audio)."""

    number: int
    name: str
    host_api: str
    input_channels: int
    output_channels: int
    rate_hz: float
    is_default_input: bool

    def __str__(self) -> str:
        mark = ", the default" if self.is_default_input else ""
        return f"{self.number}: {self.name} ({self.host_api}, {self.input_channels} in{mark})"


def find_input(devices: Sequence[SoundDevice], wanted: str | int) -> SoundDevice:
    """The input that ``wanted`` names: 'default', a number, or a name or part of one in any case.

    A full name goes before a part of a name. Raises UserError, which lists the candidates, when none or several fit.
    """
    inputs = [device for device in devices if device.input_channels > 0]
    if not inputs:
        raise UserError("There is no sound input on this machine. Connect a microphone and try again.")
    text = str(wanted).strip()
    if text.isdecimal():
        return _only([device for device in inputs if device.number == int(text)], text, inputs)
    if text.lower() == "default":
        return _only([device for device in inputs if device.is_default_input], text, inputs)
    exact = [device for device in inputs if device.name.lower() == text.lower()]
    return _only(exact or [device for device in inputs if text.lower() in device.name.lower()], text, inputs)


def _only(found: Sequence[SoundDevice], wanted: str, inputs: Sequence[SoundDevice]) -> SoundDevice:
    """The one that was found."""
    if len(found) == 1:
        return found[0]
    if not found:
        raise UserError(f"No sound input is {wanted!r}. Choose one by its number or part of its name:\n{_list(inputs)}")
    raise UserError(f"{wanted!r} fits several sound inputs. Choose one by its number:\n{_list(found)}")


def _list(devices: Iterable[SoundDevice]) -> str:
    """One device a line."""
    return "\n".join(f"  {device}" for device in devices)
