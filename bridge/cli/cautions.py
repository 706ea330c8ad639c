"""Cautions, each for those whom it concerns.

Sources: NIOSH 98-126 (85 dBA for 8 hours, 3 dB exchange rate); the rest is common practice, no source.
"""

from __future__ import annotations

#: Short enough for a terminal 80 columns wide.
HOWL = "Begin quietly or with headphones: a microphone near a loudspeaker can howl."
HEARING = "Hearing: 85 dBA for 8 hours at most, and half as long for each 3 dB more."
BREATH = "Light-headed from long playing? Stop and rest. One harp, one mouth."
ADVICE = "Local rules and a qualified person's advice come first."


def cautions(*, played: bool, sent: bool) -> tuple[str, ...]:
    """What to mind when somebody plays into a microphone (``played``), or when something can sound (``sent``)."""
    if played:
        return HOWL, HEARING, BREATH, ADVICE
    return (HEARING, ADVICE) if sent else ()
