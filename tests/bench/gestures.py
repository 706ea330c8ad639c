"""Rows of gestures: what must split nothing, what must be found, what must start nothing."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence

import numpy as np

from bench.cases import SAMPLED_KEYS, Case, rehearsal_case, sampled_case
from bench.noting import NoteFigures, events_of, note_figures, note_ons
from bench.peers import follow
from bench.special import Numbers
from bench.wanted import Target
from bridge.base.events import Inflection, NoteOn, PitchFrame
from bridge.follow.settings import FollowSettings
from sounds import gestures
from sounds.known import KnownSound

VOICES = ("sampled", "rehearsed")
DEPTHS_DB = (6.0, 10.0)
CHANGES_HZ = (8.0, 16.0)
#: Peaks of slaps beside phrases whose notes peak at about -10 dBFS.
SLAPS_DB = (-6.0, -16.0, -26.0)
_SLAP_EVERY_S = 0.37
#: A recorded reed rings on for so long after its end, seconds.
_TAIL_S = 0.07


def flutter() -> Numbers:
    """Hand flutter over held notes, level alone and with the spectrum: notes over and above those played."""
    found: Numbers = {}
    for depth in DEPTHS_DB:
        for spectrum in (False, True):
            notes = [
                _notes(Case(gestures.fluttered(gestures.held(key, voice), depth, spectrum=spectrum), key, 440.0))
                for voice in VOICES
                for key in SAMPLED_KEYS
            ]
            title = f"{depth:g} dB{', spectrum too' if spectrum else ''}"
            found |= _counts(title, notes)
    return found


def throat() -> Numbers:
    """Throat vibrato, 50 cents with 4 dB at 4 to 8 Hz: notes over and above those played."""
    return _counts("", [_notes(Case(gestures.throat(key, v), key, 440.0)) for v in VOICES for key in SAMPLED_KEYS])


def warbles() -> Numbers:
    """Two holes in turn without a gap: notes found and right, in percent of those played, and those invented."""
    found: Numbers = {}
    for changes in CHANGES_HZ:
        for voice in VOICES:
            total = _sum(
                _notes(Case(gestures.warble(key, pair, changes, voice), key, 440.0))
                for key in SAMPLED_KEYS
                for pair in gestures.WARBLES
            )
            right = total.played - total.missing - total.wrong
            found[f"{changes:g} a second, {voice}, found %"] = 100.0 * right / total.played
            found[f"{changes:g} a second, {voice}, extra"] = float(total.extra)
    return found


def scoops() -> Numbers:
    """Thirds begun 200 cents low: those that are not one note, and those that dwell on another degree than ``3``."""
    split = elsewhere = 0
    for voice in VOICES:
        for key in SAMPLED_KEYS:
            for over_s in gestures.SCOOP_S:
                case = Case(gestures.scoop(key, over_s, voice), key, 440.0)
                ons, degree = dwelt(case, follow(case, FollowSettings()))
                split += len(ons) != 1
                elsewhere += degree != "3"
    return {"not one note": float(split), "dwell elsewhere": float(elsewhere)}


def slaps() -> Numbers:
    """Slaps and key clicks in phrases and in the rests between: notes begun in rests, broken in two, late, and lost.

    A quiet harp phrase is held against the same with slaps. Late is a note whose beginning a slap drowned: its Note On
    comes while it sounds, but more than 50 ms after its attack.
    """
    begun = broken = late = lost = 0
    for case in (*(sampled_case("phrase", key) for key in SAMPLED_KEYS), rehearsal_case("A", 1, ("straight third",))):
        plain = _notes(case)
        for peak_db in SLAPS_DB:
            slapped = Case(gestures.slapped(_with_rest(case.sound), _SLAP_EVERY_S, peak_db), case.key, case.a4_hz)
            found = note_ons(slapped, follow(slapped, FollowSettings()))
            notes = note_figures(slapped, found)
            in_rests = sum(_in_rest(case.sound, on.ready_s) for on in found)
            begun += in_rests
            broken += max(0, notes.extra - _late(notes) - plain.extra + _late(plain) - in_rests)
            late += max(0, _late(notes) - _late(plain))
            lost += max(0, _lost(notes) - _lost(plain))
    return {"begun": float(begun), "broken": float(broken), "late": float(late), "lost": float(lost)}


def dwelt(case: Case, frames: Sequence[PitchFrame]) -> tuple[list[NoteOn], str]:
    """The Note Ons and the degree where all of them together dwelt longest."""
    events = events_of(case, frames)
    ons = [event for event in events if isinstance(event, NoteOn)]
    degrees = Counter(event.degree for event in events if isinstance(event, Inflection | NoteOn))
    return ons, degrees.most_common(1)[0][0] if degrees else ""


def _late(notes: NoteFigures) -> int:
    """Notes whose Note On came too late to be counted as theirs."""
    return notes.missing - sum(math.isinf(delay) for delay in notes.delays_ms)


def _lost(notes: NoteFigures) -> int:
    """Notes without any Note On while they sounded, or with a wrong one."""
    return notes.missing - _late(notes) + notes.wrong


def _in_rest(sound: KnownSound, at_s: float) -> bool:
    """Whether no note of the player sounds then, nor its tail."""
    return not any(note.attack_s <= at_s < note.end_s + _TAIL_S for note in sound.notes)


def _with_rest(sound: KnownSound) -> KnownSound:
    """The sound with three seconds of silence after it."""
    return sound.altered("rest", np.concatenate([sound.samples, np.zeros(3 * sound.rate, np.float32)]))


def _notes(case: Case) -> NoteFigures:
    return note_figures(case, note_ons(case, follow(case, FollowSettings())))


def _sum(figures: Iterable[NoteFigures]) -> NoteFigures:
    return sum(figures, NoteFigures())


def _counts(title: str, notes: Iterable[NoteFigures]) -> Numbers:
    total = _sum(notes)
    start = f"{title}, " if title else ""
    return {f"{start}extra": float(total.extra), f"{start}missing": float(total.missing + total.wrong)}


ROWS: dict[str, Callable[[], Numbers]] = {
    "flutter": flutter,
    "throat vibrato": throat,
    "warbles": warbles,
    "scoops": scoops,
    "slaps": slaps,
}
#: A figure that is not named here is only shown.
TARGETS: tuple[Target, ...] = (
    *(
        Target(f"hand flutter of {depth:g} dB{how}: {title}", "flutter", f"{depth:g} dB{how}, {what}", "<=", 0.0)
        for depth in DEPTHS_DB
        for how in ("", ", spectrum too")
        for title, what in (("notes more than played", "extra"), ("notes missing or wrong", "missing"))
    ),
    Target("throat vibrato: notes more than played", "throat vibrato", "extra", "<=", 0.0),
    Target("throat vibrato: notes missing or wrong", "throat vibrato", "missing", "<=", 0.0),
    *(
        Target(
            f"warbles, {changes:g} changes a second, {voice}: notes found and right, %",
            "warbles",
            f"{changes:g} a second, {voice}, found %",
            ">=",
            98.0,
        )
        for changes in CHANGES_HZ
        for voice in VOICES
    ),
    Target("thirds scooped from 200 cents below: not one note", "scoops", "not one note", "<=", 0.0),
    Target("thirds scooped from 200 cents below: dwelt elsewhere", "scoops", "dwell elsewhere", "<=", 0.0),
    Target("hand slaps and key clicks: notes begun in rests", "slaps", "begun", "<=", 0.0),
    Target("hand slaps and key clicks: notes lost", "slaps", "lost", "<=", 0.0),
)
