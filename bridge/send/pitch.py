"""How much of a bend goes out: strength, and the harp's own tuning against the synth's A4 = 440 Hz."""

from __future__ import annotations

from dataclasses import dataclass

from bridge.send.settings import SendSettings


@dataclass(frozen=True, slots=True)
class SentPitch:
    """The bend on the wire: MIDI note plus ``cents(bend)`` is the pitch to sound.

    ``strength`` is 0..1 (1 = as played, 0 = the plain scale), ``offset_cents`` what is always added.
    """

    strength: float = 1.0
    offset_cents: float = 0.0

    def cents(self, bend_cents: float) -> float:
        """Cents above the MIDI note to send for a note that was played ``bend_cents`` from its anchor."""
        return self.strength * bend_cents + self.offset_cents


def sent_pitch(settings: SendSettings, tuning_offset_cents: float) -> SentPitch:
    """The rule of these settings for a harp whose A4 lies ``tuning_offset_cents`` above 440 Hz."""
    return SentPitch(settings.strength, tuning_offset_cents if settings.synth_pitch == "played" else 0.0)
