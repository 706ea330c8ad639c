"""Made-up tones of a C harp for the tests of tuning."""

from __future__ import annotations

from dataclasses import replace

from bridge.study.tones import Tone
from sounds.tuned import equal_hz, midi_of

TONE = Tone(0.0, 2.0, 440.0, 0.5, 0.0, -25.0, 1.0, 1.0, 0.6, 1)


def tone(played: str, cents: float = 0.0, level_db: float = -25.0, key: str = "C") -> Tone:
    """A steady tone ``cents`` above the equal-tempered note of a reed at A440."""
    hz = equal_hz(midi_of(played, key), 440.0) * 2.0 ** (cents / 1200.0)
    return replace(TONE, hz=hz, level_db=level_db)
