"""Cautions that every player gets to see.

Sources: NIOSH 98-126 (85 dBA for 8 hours, 3 dB exchange rate); the rest is common practice, no source.
"""

from __future__ import annotations

#: Short enough for a terminal 80 columns wide; the first is for those who play into a microphone.
HOWL = "Begin quietly or with headphones: a microphone near a loudspeaker can howl."
CAUTIONS = (
    HOWL,
    "Hearing: 85 dBA for 8 hours at most, and half as long for each 3 dB more.",
    "Light-headed from long playing? Stop and rest. One harp, one mouth.",
    "Local rules and a qualified person's advice come first.",
)
