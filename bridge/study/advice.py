"""One thing to try next, in one sentence: what is furthest from the aim, in the order in which a teacher would say it.

A teacher's order (common practice, no source): one hole alone before anything that is said of its pitch, then pitch
and release, then time, then how steady and how long it was. Each is weighed by how many tolerances it is off.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import fmean, median
from typing import Literal

from bridge.study.aims import Aim, Missed, off_cents
from bridge.study.mark_words import late_words
from bridge.study.settings import StudySettings

#: What was furthest from the aim. ``shallow`` and ``deep`` are of where a bent third was held or begun, ``flat`` and
#: ``sharp`` of a straight note.
Fault = Literal[
    "nothing",
    "two holes",
    "shallow",
    "deep",
    "flat",
    "sharp",
    "unreleased",
    "fast",
    "slow",
    "late",
    "early",
    "unsteady",
    "short",
]

#: Two holes are said first whatever else there is; a release that lacks counts as so many tolerances.
_TWO_HOLES, _UNRELEASED = 1000.0, 5.0
#: What a teacher says later weighs less.
_TIME, _STEADY = 0.8, 0.7
#: A note that lacks this part of its length is short.
_SHORT_PART = 0.35
#: Of several notes one alone is spoken of when it is at least so many times as far off as their middle: of two, when
#: only one is off.
_ONE_ALONE = 2.0
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")


@dataclass(frozen=True, slots=True)
class Advice:
    """One thing to try next.

    ``fault`` is what it is about, None when all was as near as it should be; ``sentence`` says it. ``off_cents`` is how
    far off its places the whole was, cents; ``gained_cents`` by how much that is less than the time before, None
    without one; ``success`` whether that is as much as can be wished for, and every note was heard.
    """

    fault: Fault | None
    sentence: str
    off_cents: float
    gained_cents: float | None = None
    success: bool = False


@dataclass(frozen=True, slots=True)
class _Finding:
    weight: float
    fault: Fault
    sentence: str


def advise(
    aims: Sequence[Aim],
    misses: Sequence[Missed | None],
    settings: StudySettings,
    before_cents: float | None = None,
    beat_s: float | None = None,
) -> Advice:
    """What to try next after ``misses``, one for each of ``aims``, None for a note that was not heard.

    ``before_cents`` is the ``off_cents`` of the time before, ``beat_s`` the length of a beat, seconds, if there is one.
    """
    heard = [(aim, miss) for aim, miss in zip(aims, misses, strict=True) if miss is not None]
    if not heard:
        return Advice("nothing", "Play it once more, nearer to the microphone: no third was heard.", 0.0)
    off = fmean(off_cents(aim, miss) for aim, miss in heard)
    gained = None if before_cents is None else before_cents - off
    # Who leaves out the notes that are hard has not become better.
    success = gained is not None and gained >= settings.better_cents and len(heard) == len(aims)
    found = max(_findings(heard, aims, settings, beat_s), key=lambda finding: finding.weight, default=None)
    if found is None or found.weight < 1.0:
        return Advice(None, _WELL, off, gained, success)
    return Advice(found.fault, found.sentence, off, gained, success)


_WELL = "All of it was as near as it should be: try it again with your eyes shut, or a little faster."
_Heard = Sequence[tuple[Aim, Missed]]


def _findings(heard: _Heard, aims: Sequence[Aim], settings: StudySettings, beat_s: float | None) -> list[_Finding]:
    """All that could be said."""
    misses = [miss for _, miss in heard]
    found = [_pitch(heard, aims, settings, begin=begin) for begin in (False, True)]
    doubled = [miss for miss in misses if miss.two_holes or miss.unclean > 1.0 - settings.clean_part]
    if 2 * len(doubled) >= len(misses):
        part = round(100.0 * fmean(miss.unclean for miss in doubled))
        say = f"Narrow your lips until one hole sounds alone: two were heard in {part} % of it."
        found.append(_Finding(_TWO_HOLES, "two holes", say))
    found += _unreleased(heard, aims)
    found += _in_time(misses, len(aims), settings, beat_s)
    steady = median(miss.steady_cents for miss in misses)
    say = f"Hold it stiller, with an even breath: it strayed by {steady:.0f} cents to either side."
    found.append(_Finding(_STEADY * steady / settings.steady_cents, "unsteady", say))
    return found


def _pitch(heard: _Heard, aims: Sequence[Aim], settings: StudySettings, *, begin: bool) -> _Finding:
    """What to say of where the notes began, or of where they were held."""
    off = [(miss.begin_cents if begin else 0.0 if miss.unreleased else miss.settle_cents) for _, miss in heard]
    places = [aim.begin if begin and aim.begin is not None else aim.settle for aim, _ in heard]
    worst = max(range(len(off)), key=lambda place: abs(off[place]))
    cents, which, name = median(off), "it", places[worst].name
    if abs(cents) * _ONE_ALONE <= abs(off[worst]):
        cents = off[worst]
        which = _which(heard[worst][0], aims) if len(off) > 1 else "it"
    elif len({place.name for place in places}) > 1:
        which, name = "most", "their places"
    fault: Fault = ("shallow" if cents > 0.0 else "deep") if places[worst].bent else "sharp" if cents > 0.0 else "flat"
    much = "plainly" if abs(cents) > settings.plain_cents else "a little"
    side, away = "above" if cents > 0.0 else "under", places[worst].away(cents)
    lay = f"{which} {'began' if begin else 'lay'} {much} {side} {name}, by {away:.0f} cent{'s' * (round(away) != 1)}"
    weight = (abs(cents) + settings.near_cents) / settings.near_cents if abs(cents) >= 1.0 else 0.0
    return _Finding(weight, fault, f"{_what_to_do(fault, begin=begin)}: {lay}.")


def _unreleased(heard: _Heard, aims: Sequence[Aim]) -> list[_Finding]:
    """What to say of thirds that were not let go of: of one or some of several too, though that weighs less."""
    kept = [(aim, miss) for aim, miss in heard if miss.unreleased]
    if not kept:
        return []
    wanted = sum(aim.release_beats is not None for aim, _ in heard)
    away, name = median(aim.settle.away(miss.settle_cents) for aim, miss in kept), kept[0][0].settle.name
    weight, which = _UNRELEASED, "it"
    if 2 * len(kept) <= wanted:
        weight = max(1.0, _UNRELEASED * len(kept) / wanted)
        which = _which(kept[0][0], aims) if len(kept) == 1 else f"{len(kept)} of {wanted}"
    say = f"Let go of the bend while it sounds, over one beat: {which} stayed {away:.0f} cents under {name}."
    return [_Finding(weight, "unreleased", say)]


def _which(aim: Aim, aims: Sequence[Aim]) -> str:
    """The note of that aim in words."""
    return f"the {_ORDINALS[min(aims.index(aim), len(_ORDINALS) - 1)]} note"


def _what_to_do(fault: Fault, *, begin: bool) -> str:
    """What helps against a pitch that is off."""
    if begin:
        return "Begin lower, bent before you breathe" if fault in {"shallow", "sharp"} else "Begin less deep"
    match fault:
        case "shallow":
            return "Bend deeper"
        case "deep":
            return "Bend less"
        case "flat":
            return "Relax jaw and tongue and let it come up"
        case _:
            return "Breathe more softly"


def _in_time(misses: Sequence[Missed], wanted: int, settings: StudySettings, beat_s: float | None) -> list[_Finding]:
    """What to say of starts, releases and lengths, as far as the beat is known."""
    found = []
    late = _median(misses, lambda miss: miss.late_s)
    if late is not None:
        weight, came = _TIME * 1000.0 * abs(late) / settings.beat_ms, f"it came {late_words(late, beat_s)}"
        if late > 0.0:
            found.append(_Finding(weight, "late", f"Start sooner: {came}."))
        else:
            found.append(_Finding(weight, "early", f"Wait for the beat: {came}."))
    part = _median(misses, lambda miss: miss.release_part)
    if part is not None:
        took = f"it took {1.0 + part:.1f} times as long as it should"
        slow = part > 0.0
        say = f"{'Let go more quickly' if slow else 'Let go more slowly'}: {took}."
        found.append(_Finding(_TIME * abs(part) / settings.release_part, "slow" if slow else "fast", say))
    short = median(miss.short_part for miss in misses)
    say = f"Hold it to its end: {100.0 * short:.0f} % was missing."
    found.append(_Finding(_STEADY * short / _SHORT_PART, "short", say))
    if left_out := wanted - len(misses):
        say = f"Play every one of them: {left_out} of {wanted} {_was(left_out)} not heard."
        # One of many weighs little, but nobody is told that all was well.
        found.append(_Finding(max(1.0, _STEADY * left_out / wanted / _SHORT_PART), "short", say))
    return found


def _was(count: int) -> str:
    return "was" if count == 1 else "were"


def _median(misses: Sequence[Missed], value: Callable[[Missed], float | None]) -> float | None:
    """The middle of those values that are known; None without any."""
    known = [found for found in map(value, misses) if found is not None]
    return median(known) if known else None
