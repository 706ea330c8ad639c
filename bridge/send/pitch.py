"""How much of a bend goes out: strength, and the harp's own tuning against the synth's A4 = 440 Hz."""

from __future__ import annotations

from dataclasses import dataclass

from bridge.send.settings import SendSettings


@dataclass(slots=True)
class SentPitch:
    """The bend on the wire: MIDI note plus ``cents(bend)`` is the pitch to sound.

    ``strength`` is 0..1 (1 = as played, 0 = the plain scale), ``offset_cents`` what is always added, which with
    ``as_tuned`` is the tuning of the harp. All who send share one, so that another harp counts for them at once.
    """

    strength: float = 1.0
    offset_cents: float = 0.0
    as_tuned: bool = True

    def cents(self, bend_cents: float) -> float:
        """Cents above the MIDI note to send for a note that was played ``bend_cents`` from its anchor."""
        return self.strength * bend_cents + self.offset_cents

    def tune_to(self, tuning_offset_cents: float) -> None:
        """Go on with a harp whose root lies so far above its note at A4 = 440 Hz; nothing may sound meanwhile."""
        self.offset_cents = tuning_offset_cents if self.as_tuned else 0.0


def sent_pitch(settings: SendSettings, tuning_offset_cents: float) -> SentPitch:
    """The rule of these settings for a harp whose root lies ``tuning_offset_cents`` above its note at 440 Hz."""
    pitch = SentPitch(settings.strength, as_tuned=settings.synth_pitch == "played")
    pitch.tune_to(tuning_offset_cents)
    return pitch
