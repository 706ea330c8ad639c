"""What the settings come to on the harp in hand."""

from __future__ import annotations

from bridge.harp.harp import Harp
from bridge.quantise.settings import QuantiseSettings
from bridge.wiring.harps import HeldHarp
from bridge.wiring.settings import Settings

_CENTS_PER_SEMITONE = 100.0


def quantise_on(settings: Settings, held: HeldHarp) -> QuantiseSettings:
    """The settings of quantise on a harp, with numbers for all that they leave to it."""
    return settings.quantise.for_harp(held.harp.straight_third_cents(), held.playing_db)


def third_trouble(settings: Settings, held: HeldHarp) -> str | None:
    """One line where the harp's straight third cannot be used; None where it can, or where a number is set."""
    third, cents = settings.quantise.third, held.harp.straight_third_cents()
    if third.suits(cents):
        return None
    return (
        f"The straight third of the {held.name} lies {cents:.0f} cents above its root, where none can be told from a "
        f"blue third ({third.zone_low:g} to {third.zone_high:g}) or a fourth. It is taken to lie at "
        f"{third.straight_cents:g}: tune or measure the harp again, or set quantise.third."
    )


def bend_room_cents(settings: Settings, harp: Harp) -> float:
    """How far a note may bend on the wire: the range, less what the harp's own tuning already takes of it."""
    room = settings.send.midi.sent_bend_range * _CENTS_PER_SEMITONE
    if settings.send.synth_pitch == "played":
        room -= abs(harp.sharp_cents)
    return max(room, _CENTS_PER_SEMITONE / 2.0)
