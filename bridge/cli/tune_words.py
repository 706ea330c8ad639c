"""What is asked of a player who tunes a harp, what was heard, and why nothing could be written, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from bridge.base.units import hz_above, midi_to_hz
from bridge.harp.harp import MAJOR_THIRD, Harp, Reed
from bridge.harp.note_names import note_name, with_article
from bridge.harp.positions import position_name, root_semitones
from bridge.study.straight import LEAST_S, Fault, Judged
from bridge.study.tuning import LOUDER_DB, Tuning
from bridge.study.tuning_lesson import Lesson, Step, telling_reed, wanted_reeds
from bridge.takes.finished import signed

#: A change of pitch smaller than this is shown as none, cents.
_SEEN_CENTS = 0.05
#: Why a note does not count, and what to try.
_NOT_COUNTED: Mapping[Fault, str] = {
    "voice": "a voice or a noise, no reed. Wait until it is quiet.",
    "pure": "a pure tone, such as a tuning fork's, no reed.",
    "doubled": "not one reed alone. Narrow your lips to one hole; noise in the room can do this too.",
    "short": f"too short. Hold it for about two seconds ({LEAST_S} s at least).",
    "sliding": "the pitch was sliding, as when a bend is begun or let go. Keep mouth and breath as they are.",
    "unsteady": "the pitch was unsteady. Breathe evenly, without vibrato and with still hands.",
    "low": "too low: it was bent a little. Relax jaw and throat. (If it is the reed, play it so three times.)",
    "high": "too high beside the root, which was bent a little. (If it is the reed, play it so three times.)",
    "other": "no straight note of this harp: it was bent, or the harp is another one.",
}
#: Why nothing was found, if that is what was heard most.
_NOTHING_FOUND: Mapping[Fault, str] = {
    "voice": "What was heard is a voice or a noise, no harp.",
    "pure": "What was heard is a pure tone, such as a tuning fork's, and no reed of a harp: it has no overtones.",
    "doubled": "Only several reeds at once were heard, or much noise. Narrow your lips to one hole.",
    "short": "Only short notes were heard. Hold each for about two seconds.",
    "sliding": "Only sliding notes were heard. Hold each straight for about two seconds.",
    "unsteady": "Only unsteady notes were heard. Hold each evenly, without vibrato.",
}

_BENT_OR_OTHER = "they were bent, or the harp is another one (--harp)"


def reed_words(reed: Reed, harp: Harp) -> str:
    """A reed as players call it: ``draw 2 (G4)``."""
    return f"{reed.air} {reed.hole} ({note_name(harp.hole1_midi + reed.semitones, harp.root_midi)})"


def opening_lines(lesson: Lesson, *, recorded: bool = False) -> list[str]:
    """Which harp is expected, and how to play, or how it should have been played where it is ``recorded``."""
    reeds = ", ".join(reed_words(reed, lesson.harp) for reed in lesson.wanted)
    play = "Wanted is each" if recorded else "Play each"
    how = "straight, one hole alone, for about two seconds, softly and then hard, with a rest after it"
    return [f"{lesson.harp.name}: {reeds}.", f"{play} {how}."]


def step_line(step: Step, harp: Harp) -> str:
    """What to play next."""
    how = "softly" if step.how == "softly" else "hard, but without forcing it"
    return f"{step.number} of {step.of}: {reed_words(step.reed, harp)}, {how}."


def heard_line(judged: Judged, harp: Harp, before: Step | None, after: Step | None) -> str:
    """What became of one note, between two steps."""
    if judged.fault is not None:
        return f"  Not counted: {_place(judged, harp)}{_NOT_COUNTED[judged.fault]}"
    tone = judged.tone
    line = (
        f"  Heard {reed_words(judged.reed, harp)}: {tone.hz:.2f} Hz, steady within {tone.spread_cents:.1f} cents, "
        f"{tone.level_db:.0f} dBFS."
    )
    if before is not None and before == after and before.reed == judged.reed:
        line += f" Its level is much the same as before: play it at least {LOUDER_DB:.0f} dB louder."
    return line


def more_line(lesson: Lesson, ends_s: float) -> str:
    """That all that is needed was heard, and what else could be played."""
    reed = telling_reed(lesson.tuning(), lesson.harp)
    what = "" if reed is None else f" {reed_words(reed, lesson.harp)} would tell most about how it is tuned."
    enough = "That is enough. Other straight reeds count too, if you like."
    return f"{enough}{what} {ends_s:.0f} seconds of rest, or q, end it."


def tuning_lines(tuning: Tuning, harp: Harp, tuned: Harp) -> list[str]:
    """What was found on ``harp``, which ``tuned`` is as it is now known."""
    lines = [f"A4 on this harp: {tuning.a4_hz:.1f} Hz. {_temperament_words(tuning, harp)}"]
    for reed, found in tuning.reeds:
        hz = hz_above(midi_to_hz(harp.hole1_midi + reed.semitones, tuning.a4_hz), found.offset_cents)
        lines.append(
            f"  {reed_words(reed, harp):<14} {hz:8.2f} Hz, {found.offset_cents:+6.1f} cents from equal, "
            f"spread {found.spread_cents:.1f}"
        )
    lines.append(_third_line(tuned))
    breath = tuning.breath
    if breath is None:
        lines.append("How the pitch falls with breath is not known: soft and hard came equally loud.")
    else:
        way = "rises" if breath.fall_cents < 0.0 else "falls"
        by = f"{way} by {abs(breath.fall_cents):.1f} cents" if abs(breath.fall_cents) >= _SEEN_CENTS else "stays"
        lines.append(f"From soft ({breath.soft_db:.0f} dBFS) to hard ({breath.hard_db:.0f} dBFS) the pitch {by}.")
    return lines


def _third_line(tuned: Harp) -> str:
    """Where the straight third lies, or that no straight reed gives one."""
    third = f"{tuned.straight_third_cents():.0f} cents above the root"
    if tuned.straight_reed(root_semitones(tuned.position) + MAJOR_THIRD) is None:
        name = position_name(tuned.position)
        return f"In {name} position no straight reed is a major third: it is taken to lie {third}."
    return f"The straight third lies {third}."


def other_key_line(key: str, lesson: Lesson) -> str:
    """That another harp is played, or this one in another position."""
    harp = lesson.harp
    if (there := _other_position(lesson)) is not None:
        return (
            f"What was played is root, third and fifth in {position_name(there.position)} position, not in "
            f"{position_name(harp.position)}. "
            f"Say --position {there.position}; or if it was a harp in {key}, say --harp {key}."
        )
    return (
        f"What was played is root, third and fifth of a harp in {key}, not in {harp.key}. "
        f"If it was that harp, say --harp {key}; else take the one in {harp.key}."
    )


def why_not(lesson: Lesson) -> str:
    """Why the harp's tuning is not known, and what to do."""
    harp = lesson.harp
    if (other := lesson.other_key) is not None:
        return f"{other_key_line(other, lesson)} Nothing was written."
    if lesson.hearings:
        missing = _listed([reed_words(reed, harp) for reed in lesson.missing])
        strange = f"Other notes are no straight ones of {with_article(harp.key)} harp: {_BENT_OR_OTHER}. "
        return (
            f"Not heard straight, both softly and hard: {missing}. {strange * ('other' in lesson.faults)}"
            "Nothing was written."
        )
    if not lesson.faults:
        return f"No note was heard. Play closer to the microphone, or louder. {_again(lesson)}"
    most = max(lesson.faults, key=lesson.faults.__getitem__)
    found = _NOTHING_FOUND.get(most, f"No straight note of {with_article(harp.key)} harp was heard: {_BENT_OR_OTHER}.")
    return f"{found} {_again(lesson)}"


def _other_position(lesson: Lesson) -> Harp | None:
    """The harp in the position that was played instead: one whose root, third and fifth were all heard."""
    heard = {one.reed.semitones for one in lesson.hearings}
    rooted = (number for number in range(1, 13) if lesson.harp.straight_reed(root_semitones(number)) is not None)
    for there in (replace(lesson.harp, position=number) for number in rooted):
        wanted = {reed.semitones for reed in wanted_reeds(there)}
        if len(wanted) == len(lesson.wanted) and wanted <= heard:
            return there
    return None


def _again(lesson: Lesson) -> str:
    return f"Wanted: {_listed([reed_words(reed, lesson.harp) for reed in lesson.wanted])}. Nothing was written."


def _place(judged: Judged, harp: Harp) -> str:
    """Where a note lies that is off its reed; nothing for a note with another fault."""
    if judged.fault not in {"low", "high", "other"}:
        return ""
    return f"{signed(judged.off_cents)} cents from {reed_words(judged.reed, harp)}, "


def _temperament_words(tuning: Tuning, harp: Harp) -> str:
    """The temperament, which others it may be as well, and what would tell."""
    if len(tuning.alike) == 1:
        return f"Temperament: {tuning.temperament}."
    words = f"Temperament: {_listed(tuning.alike, 'or')}, alike in these reeds; {tuning.temperament} is written."
    reed = telling_reed(tuning, harp)
    return words if reed is None else f"{words} {reed_words(reed, harp)} would tell them apart."


def _listed(words: Sequence[str], last: str = "and") -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {last} {words[-1]}"
