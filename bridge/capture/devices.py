"""Which sound device is meant: by number or by part of its name, never by guessing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from bridge.base.errors import UserError

Way = Literal["input", "output"]


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
    is_default_output: bool = False

    def __str__(self) -> str:
        """As an input."""
        return self.described("input")

    def channels(self, way: Way) -> int:
        """How many channels it has that way, 0 where it has none."""
        return self.input_channels if way == "input" else self.output_channels

    def is_default(self, way: Way) -> bool:
        """Whether the sound system takes it when nothing is said."""
        return self.is_default_input if way == "input" else self.is_default_output

    def described(self, way: Way) -> str:
        """Number, name, system and channels in one line."""
        mark = ", the default" if self.is_default(way) else ""
        return f"{self.number}: {self.name} ({self.host_api}, {self.channels(way)} {way.removesuffix('put')}{mark})"


def find_input(devices: Sequence[SoundDevice], wanted: str | int) -> SoundDevice:
    """The input that ``wanted`` names: 'default', a number, or a name or part of one in any case.

    A full name goes before a part of a name. Raises UserError, which lists the candidates, when none or several fit.
    """
    return _find(devices, wanted, "input", "Connect a microphone and try again.")


def find_output(devices: Sequence[SoundDevice], wanted: str | int) -> SoundDevice:
    """The output that ``wanted`` names, by the same rules as :func:`find_input`."""
    return _find(devices, wanted, "output", "Connect a loudspeaker and try again.")


def find_again(devices: Sequence[SoundDevice], before: SoundDevice) -> SoundDevice:
    """The input that was there ``before``, whatever number it has now: by its name and the system that drives it.

    Of several of that name it is the one with the number it had. Raises UserError when it is not there.
    """
    there = [device for device in devices if device.input_channels > 0]
    same = [device for device in there if (device.name, device.host_api) == (before.name, before.host_api)]
    if len(same) > 1:
        same = [device for device in same if device.number == before.number]
    if len(same) != 1:
        raise UserError(f"The sound input {before.name} is not there. Connect it, or start the sound system, again.")
    return same[0]


def _find(devices: Sequence[SoundDevice], wanted: str | int, way: Way, advice: str) -> SoundDevice:
    """The one device of that way."""
    there = [device for device in devices if device.channels(way) > 0]
    if not there:
        raise UserError(f"There is no sound {way} on this machine. {advice}")
    text = str(wanted).strip()
    if text.isdecimal():
        return _only([device for device in there if device.number == int(text)], text, there, way)
    if text.lower() == "default":
        return _only([device for device in there if device.is_default(way)], text, there, way)
    exact = [device for device in there if device.name.lower() == text.lower()]
    return _only(exact or [device for device in there if text.lower() in device.name.lower()], text, there, way)


def _only(found: Sequence[SoundDevice], wanted: str, there: Sequence[SoundDevice], way: Way) -> SoundDevice:
    """The one that was found."""
    if len(found) == 1:
        return found[0]
    if not found:
        raise UserError(
            f"No sound {way} is {wanted!r}. Choose one by its number or part of its name:\n{_list(there, way)}"
        )
    raise UserError(f"{wanted!r} fits several sound {way}s. Choose one by its number:\n{_list(found, way)}")


def _list(devices: Iterable[SoundDevice], way: Way) -> str:
    """One device a line."""
    return "\n".join(f"  {device.described(way)}" for device in devices)
