"""What to change after a sound check: the most important first, each with the act or the setting that changes it.

A setting stands at the end of its line or before a space, so that it can be copied as it stands.
Thresholds without a source beside them are common practice, no source.
"""

from __future__ import annotations

import math

from bridge.cli.room_words import gate_words, guard_options
from bridge.follow.hum import Hum
from bridge.follow.loudspeaker import (
    HEADPHONES_DB,
    comes_back_above,
    headphones_needed,
    under_the_harp_db,
)
from bridge.follow.played import Played
from bridge.follow.room_noise import HARP_DB, LOWEST_OPEN_DB, LearnedRoom
from bridge.follow.suppression import Suppression
from bridge.quantise.bleed import SOFTER_DB
from bridge.wiring.harps import harp_set
from bridge.wiring.on_harp import quantise_on
from bridge.wiring.sound_check import Checked

#: What an overloaded input is turned down by, and where the peak belongs, dB.
_DOWN_DB, _PEAK_AT_DB = 10.0, -6.0
#: Calls later than this are rated worse by players than a steady delay three times as long, in seconds (Jack, Mehrabi,
#: Stockman and McPherson, Music Perception 36, 2018).
_UNEVEN_S = 0.003
#: A block may take this part of its length to work out: beyond, a busy moment costs sound.
_BUSY = 0.7
_LONGEST_BLOCK = 4096
#: Blocks longer than this, in seconds, are most of the delay.
_LONG_BLOCK_S = 0.006
#: A gate this far above the one that was learned costs soft notes, dB.
_GATE_TOO_HIGH_DB = 3.0
#: Hard playing should bring the breath at least so far, 0..1.
_BREATH_LEAST = 0.6


def changes(checked: Checked) -> list[str]:
    """Everything that should be changed."""
    room, played = checked.room, checked.played
    found: list[str] = []
    if played is not None and room is not None:
        found += _unheard(played, room)
        found += _overloaded(played)
        found += _suppressed(played.suppression)
    found += _lost(checked)
    if room is not None and not room.dead:
        found += _level(room, played)
        found += _hum(checked.hum, played)
        found += _gate_too_low(checked, room)
        found += _loudspeaker(checked, room)
    found += _timing(checked)
    if played is not None and played.heard and room is not None:
        found += _full_scale(played)
        found += _breath(checked, played, room)
    if room is not None and not room.dead:
        found += _gate_too_high(checked, room, played)
    found += _long_block(checked)
    return [*found, *checked.notices]


def _unheard(played: Played, room: LearnedRoom) -> list[str]:
    if played.heard:
        return []
    if room.dead:
        return ["Nothing but silence comes from the microphone: check its switch, its plug and its level."]
    return ["Nothing was heard of a harp: play nearer, turn the input up, or choose another one with --input."]


def _overloaded(played: Played) -> list[str]:
    if not played.clipped:
        return []
    return [f"Turn the input down by {_DOWN_DB:.0f} dB and check again: it is overloaded, which breaks every pitch."]


def _suppressed(seen: Suppression) -> list[str]:
    """By the surest sign that was seen."""
    if seen.dead_room:
        sign = "before you played there was no sound at all"
    elif seen.dead_pauses:
        sign = "between notes there is no sound at all"
    elif seen.fallen_db:
        sign = f"after notes it is {seen.fallen_db:.0f} dB more silent than in the room"
    elif seen.fading:
        sign = f"all {seen.fading} long notes fade, unless you let them"
    else:
        return []
    return [f"Switch noise suppression off in the sound settings of computer and microphone: {sign}."]


def _lost(checked: Checked) -> list[str]:
    if not checked.lost:
        return []
    return [f"Sound was lost, the machine was too busy: close other programs, or {_longer_block(checked)}"]


def _level(room: LearnedRoom, played: Played | None) -> list[str]:
    """Too soft for the gate, by what was played, or by how loud harps usually are."""
    quiet_room = room.open_db <= LOWEST_OPEN_DB
    if played is None or not played.heard:
        if not room.too_loud:
            return []
        return ["Go closer to the microphone, or quieten the room: its noise leaves no place for soft notes."]
    short_db = played.short_db(room.open_db)
    if short_db < 1.0:
        return []
    if quiet_room and played.peak_db + short_db < _PEAK_AT_DB:
        return [f"Turn the input up by {short_db:.0f} dB: soft notes do not pass the gate."]
    return [f"Go closer to the microphone, or quieten the room, for {short_db:.0f} dB: soft notes drown in its noise."]


def _hum(hum: Hum | None, played: Played | None) -> list[str]:
    harp_db = played.usual_db if played is not None and played.heard else HARP_DB
    if hum is None or not hum.matters(harp_db):
        return []
    cure = "try another socket and cable, and keep away from power supplies and lamps"
    return [f"Find the {hum.mains_hz} Hz hum, {harp_db - hum.level_db:.0f} dB under the harp: {cure}."]


def _gate_too_low(checked: Checked, room: LearnedRoom) -> list[str]:
    if checked.settings.follow.gate.close_db >= room.most_db:
        return []
    return [f"Set the gate, or the room holds notes: {gate_words(room)}"]


def _gate_too_high(checked: Checked, room: LearnedRoom, played: Played | None) -> list[str]:
    """Where the room allows a lower gate, and soft notes need it, or nobody knows how soft they are."""
    open_db = checked.settings.follow.gate.open_db
    needed = played is None or not played.heard or played.short_db(open_db) > 0.0
    if open_db <= room.open_db + _GATE_TOO_HIGH_DB or not needed:
        return []
    return [f"Set the gate, for softer notes: {gate_words(room)}"]


def _loudspeaker(checked: Checked, room: LearnedRoom) -> list[str]:
    if checked.loudspeaker is None:
        return []
    found, _ = checked.loudspeaker
    if found.clipped:
        return ["Turn the loudspeaker down: it overloads the microphone."]
    under = under_the_harp_db(found)
    lines = []
    if headphones_needed(found):
        lines.append(f"Use headphones, or turn the loudspeaker down by {math.ceil(HEADPHONES_DB - under)} dB.")
    options = guard_options(found.delay_s, checked.settings.quantise.bleed)
    if comes_back_above(room.close_db, found) and under >= SOFTER_DB and options:
        lines.append(f"Without headphones keep the synth from holding notes: {options}")
    return lines


def _timing(checked: Checked) -> list[str]:
    """Calls in bunches, calls that come unevenly, and too little time for the work."""
    timing = checked.timing
    lines = []
    if timing.blocks_at_once > 1:
        length = round(timing.handed_s * checked.rate)
        shorter = f"its period (or buffer) to {checked.settings.capture.block} samples"
        lines.append(
            f"Set the sound system's {shorter[4:]}: it gives {length} at once, which is {_ms(timing.handed_s)}."
        )
    if timing.uneven_s > _UNEVEN_S:
        cure = "close other programs and give the sound card a plug of its own"
        lines.append(f"Mend the timing: the card calls up to {_ms(timing.uneven_s)} late; {cure}.")
    if timing.work.quantile(0.99) > _BUSY * timing.block_s:
        lines.append(f"The worker has hardly time to spare: close other programs, or {_longer_block(checked)}")
    return lines


def _full_scale(played: Played) -> list[str]:
    if not played.near_full_scale:
        return []
    return [f"Turn the input down by {played.peak_db - _PEAK_AT_DB:.0f} dB: hard notes leave no room above."]


def _breath(checked: Checked, played: Played, room: LearnedRoom) -> list[str]:
    """Breath that never gets far; not while it is only the input that is turned down too far."""
    breath = quantise_on(checked.settings, harp_set(checked.settings.harp).harps[0]).breath
    floor_db, ceiling_db = breath.marks_db()
    reached = (played.hard_db - floor_db) / (ceiling_db - floor_db)
    if breath.constant is not None or reached >= _BREATH_LEAST or played.short_db(room.open_db) >= 1.0:
        return []
    setting = f"--set quantise.breath.ceiling_db={math.ceil(played.hard_db) + 3}"
    return [f"Give the breath its range, hard playing reaches {100 * max(0.0, reached):.0f} % of it: {setting}"]


def _long_block(checked: Checked) -> list[str]:
    timing = checked.timing
    if timing.block_s <= _LONG_BLOCK_S or timing.work.quantile(0.99) > _BUSY * _LONG_BLOCK_S:
        return []
    return [f"Take shorter blocks, since one lasts {_ms(timing.block_s)}: --set capture.block=128"]


def _longer_block(checked: Checked) -> str:
    longer = min(2 * checked.settings.capture.block, _LONGEST_BLOCK)
    return f"take longer blocks: --set capture.block={longer}"


def _ms(seconds: float) -> str:
    return f"{1000.0 * seconds:.1f} ms"
