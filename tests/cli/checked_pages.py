"""A sound check as it may have turned out, made up for what is said of it."""

from __future__ import annotations

from dataclasses import replace

from bridge.follow.played import FollowedNote, Played
from bridge.follow.room_noise import LearnedRoom
from bridge.follow.suppression import Suppression
from bridge.wiring.card_timing import CardTiming
from bridge.wiring.settings import load_settings
from bridge.wiring.sound_check import Checked

BLOCK_S = 128 / 48000
ROOM = LearnedRoom(5.0, -62.0, -59.0, 0.0, 0.0)
PLAYED = Played(
    seconds=9.1,
    soft_db=-31.0,
    usual_db=-20.0,
    hard_db=-14.0,
    peak_db=-6.0,
    clipped=0,
    suppression=Suppression(),
    notes=(FollowedNote(60, 0.005), FollowedNote(76, 0.0033)),
    lowest=60,
    highest=93,
    begun=14,
    begins_s=0.0121,
)


def timing(
    *, block_s: float = BLOCK_S, bunch: int = 1, work_s: float = 0.0008, late_s: float = 0.0, answered: bool = True
) -> CardTiming:
    """A card that calls ``bunch`` times at once; one of twenty times ``late_s`` late."""
    made = CardTiming(block_s)
    for number in range(1000):
        at = number * bunch * block_s + (late_s if number % 20 == 0 else 0.0)
        made.called([at + 1e-6 * each for each in range(bunch)])
        if answered:
            made.worked([at], at, at + work_s, block_s)
    return made


def checked(*sets: str, played: Played | None = PLAYED, **other: object) -> Checked:
    """A check in which all is well but for what is given."""
    settings = load_settings(sets=["follow.gate.open_db=-50", *sets])
    made = Checked(settings, "USB microphone", 48000, timing(), room=ROOM, played=played)
    return replace(made, **other)  # type: ignore[arg-type]
