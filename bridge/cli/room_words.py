"""What was learned of a room, a loudspeaker or a recording, in words."""

from __future__ import annotations

import math

from bridge.follow.hum import Hum
from bridge.follow.loudspeaker import (
    HEADPHONES_DB,
    LoudspeakerReturn,
    comes_back_above,
    headphones_needed,
    under_the_harp_db,
)
from bridge.follow.recorded_levels import PAUSES_BELOW_DB, RecordedLevels
from bridge.follow.room_noise import HARP_DB, SOFT_DB, LearnedRoom
from bridge.quantise.bleed import LATE_MS, SOFTER_DB, BleedSettings

#: The guard against the synth's own sound, as an option and as a line of a preset.
GUARD_OPTION = "--set quantise.bleed.guard=true"
GUARD_PRESET = "quantise: {bleed: {guard: true}}"
#: What the two settings that are learned do.
_GATE = "Gate that keeps the noise out:"
#: From what comes out of the loudspeaker until the follower has its pitch, milliseconds: low reeds take longest.
_HEARD_MS = 60.0


def room_lines(room: LearnedRoom) -> list[str]:
    """The noise, and the two settings that follow from it."""
    lines = [
        f"The room's noise is at {room.noise_db:.1f} dBFS and stays under {room.most_db:.1f} in 99 of 100 moments.",
        f"{_GATE} {gate_words(room)}",
    ]
    if room.too_loud:
        lines.append(
            f"Too loud for the harp: soft notes need {SOFT_DB:.0f} dB between the gate and a harp at {HARP_DB:.0f} "
            f"dBFS, here there are {max(0.0, room.margin_db):.0f}. Go closer to the microphone, or quieten the room."
        )
    return lines


def gate_words(room: LearnedRoom) -> str:
    """The two settings as options."""
    return f"--set follow.gate.open_db={room.open_db:.1f} --set follow.gate.close_db={room.close_db:.1f}"


def why_not(room: LearnedRoom) -> str | None:
    """Why nothing could be learned, and what to do; None when it could."""
    if room.dead:
        return "Nothing but silence comes from the microphone. Check its switch, its plug and its level."
    again = f"Play nothing for {room.seconds:.0f} seconds, and try again."
    if room.tone_hz > 0.0:
        return f"Somebody played, or a tone sounds in the room (about {room.tone_hz:.0f} Hz). {again}"
    if room.disturbed:
        return f"The room was not quiet: something sounded for {room.disturbed_s:.1f} s. {again}"
    return None


def hum_line(hum: Hum) -> str:
    """What a tone in the room may be."""
    return (
        f"The mains hum at {hum.mains_hz} Hz, {hum.level_db:.0f} dBFS: mend that first, with another socket or cable."
    )


def loudspeaker_lines(found: LoudspeakerReturn, level_db: float, *, close_db: float, bleed: BleedSettings) -> list[str]:
    """Delay, level, whether headphones are needed, and what to set without them; the gate closes at ``close_db``."""
    under = under_the_harp_db(found)
    place = f"{under:.0f} dB under the harp" if under >= 0.0 else f"{-under:.0f} dB above the harp"
    came = f"after {1000.0 * found.delay_s:.1f} ms, {found.gain_db:+.1f} dB"
    lines = [
        f"The loudspeaker comes back {came} (played at {level_db:.0f} dBFS).",
        f"A synth as loud as a harp would come back {place}.",
    ]
    if found.clipped:
        lines.append("It overloaded the microphone: turn the loudspeaker down and check again.")
    if headphones_needed(found):
        lines.append(
            f"Use headphones, the sure way, or turn the loudspeaker down: it should stay {HEADPHONES_DB:.0f} dB under "
            "the harp."
        )
    else:
        lines.append("No headphones are needed at this volume.")
    if comes_back_above(close_db, found):
        lines += _guard_lines(1000.0 * found.delay_s, helps=not found.clipped and under >= SOFTER_DB, bleed=bleed)
    return lines


def guard_options(delay_s: float, bleed: BleedSettings) -> str:
    """What switches the guard on for a loudspeaker that answers after ``delay_s``; empty where that is set."""
    answers_ms = _answers_ms(1000.0 * delay_s)
    options = [GUARD_OPTION] * (not bleed.guard)
    options += [f"--set quantise.bleed.answers_ms={answers_ms:.0f}"] * (answers_ms > bleed.answers_ms)
    return " ".join(options)


def _answers_ms(delay_ms: float) -> float:
    """How late the synth's sound may be followed, to ten milliseconds."""
    return 10.0 * math.ceil((delay_ms + _HEARD_MS) / 10.0)


def _guard_lines(delay_ms: float, *, helps: bool, bleed: BleedSettings) -> list[str]:
    """What the guard does about a synth that comes back above the gate, ``delay_ms`` late."""
    if not helps:
        softer = f"while it comes back at least {SOFTER_DB:g} dB softer."
        return [
            f"Without headphones the synth will hold notes, and begin some: no guard can tell it apart but {softer}"
        ]
    answers_ms = _answers_ms(delay_ms)
    late = answers_ms > bleed.answers_ms
    option, key = f"--set quantise.bleed.answers_ms={answers_ms:.0f}", f"answers_ms: {answers_ms:.0f}"
    slow = ["So late it begins a note now and then all the same: use a faster way to the loudspeaker, such as a cable."]
    slow *= delay_ms > LATE_MS
    if bleed.guard and late:
        return [
            "It comes back above the gate; the guard is on, but the loudspeaker answers later than it is set for.",
            f"Setting: {option}",
            f"In a preset: quantise: {{bleed: {{{key}}}}}",
            *slow,
        ]
    if bleed.guard:
        return ["It comes back above the gate, and the guard is on: it keeps the synth from holding notes.", *slow]
    return [
        "It comes back above the gate, so without headphones the synth can hold a note, or begin one.",
        f"Setting: {GUARD_OPTION}" + late * f" {option}",
        f"In a preset: {GUARD_PRESET.replace('true', f'true, {key}') if late else GUARD_PRESET}",
        *slow,
    ]


def recording_lines(levels: RecordedLevels, *, first: bool = False) -> list[str]:
    """Playing, pauses, peak, and the settings that follow; ``first`` says that only the beginning was looked at."""
    length = f"The first {levels.seconds:.1f} s of it" if first else f"{levels.seconds:.1f} s"
    loud = f"The playing is at {levels.playing_db:.1f} dBFS, the peak at {levels.peak_db:.1f} dBFS."
    lines = [f"{length}. {loud}"]
    if levels.clipped:
        many = "place" if levels.clipped == 1 else "places"
        lines.append(f"Overloaded in {levels.clipped} {many}: record with less gain.")
    if not levels.has_pauses:
        lines.append(
            "It has no pause in which the sound falls at least "
            f"{PAUSES_BELOW_DB:.0f} dB under the playing, so its noise is not known and there is no gate to recommend."
        )
        return lines
    room = levels.room()
    lines.append(f"The pauses are at {levels.pauses_db:.1f} dBFS, {levels.playing_db - levels.pauses_db:.0f} dB lower.")
    lines.append(f"{_GATE} {gate_words(room)}")
    if (margin_db := levels.playing_db - room.open_db) < SOFT_DB:
        lines.append(
            f"Soft notes may be lost with it: they need {SOFT_DB:.0f} dB between the gate and the playing, here there "
            f"are {max(0.0, margin_db):.0f}. Record closer to the microphone, or in a quieter room."
        )
    return lines
