"""One time through an exercise in words, and how it has gone so far: the same in the terminal and on the board."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from statistics import median

from bridge.quantise.third import ThirdZone
from bridge.study.attempt import Attempt
from bridge.study.mark_words import marks_words

#: So many times at either end are taken together where there are enough.
_FEW = 3
_SEMITONE_CENTS = 100.0
#: What is played at so many semitones above the root, as players say it.
_NAMES = (
    *("root", "flat second", "second", "flat third", "third", "fourth"),
    *("flat fifth", "fifth", "flat sixth", "sixth", "flat seventh", "seventh"),
)

#: Of a beat that is only seen.
SILENT = "Silent: the beat is on the screen alone, so how you lie against it is rough."


def note_words(attempt: Attempt, zone: ThirdZone) -> list[str]:
    """The marks of each note, a sentence each."""
    beat_s = None if attempt.beat is None else attempt.beat.period_s
    return [f"{'not heard' if note is None else marks_words(note, zone, beat_s)}." for note in attempt.notes]


def off_words(attempt: Attempt) -> str:
    """How far off the whole was, what became of it since the time before, what else was played; empty for nothing."""
    return " ".join(filter(None, (_distance_words(attempt), other_words(attempt))))


def other_words(attempt: Attempt) -> str:
    """Which notes were none of the exercise and count for nothing; empty without any."""
    if not attempt.others:
        return ""
    counted = Counter(_NAMES[round(note.settle_cents / _SEMITONE_CENTS) % len(_NAMES)] for note in attempt.others)
    named = ", ".join(f"the {name}" + f" {count} times" * (count > 1) for name, count in counted.items())
    return f"Not judged, being other notes: {named}."


def _distance_words(attempt: Attempt) -> str:
    advice = attempt.advice
    if not attempt.heard or advice.fault == "two holes":
        return ""
    unheard = attempt.notes.count(None)
    where = "What was heard lies where it should" if unheard else "All where it should lie"
    if advice.off_cents >= 0.5:
        where = f"{_cents(advice.off_cents)} off where it should lie, on average"
    but = f"; {unheard} of {len(attempt.notes)} {'was' if unheard == 1 else 'were'} not heard" if unheard else ""
    return f"{where}{but}." + _gained(attempt)


def next_words(attempt: Attempt) -> str:
    """One thing to try next."""
    return f"Next: {attempt.advice.sentence}"


def so_far_words(off: Sequence[float]) -> str:
    """How far off, in cents, an exercise was each time, from the second time on; empty before."""
    if len(off) < 2:
        return ""
    if len(off) < 2 * _FEW:
        ends = f"{_cents(off[0])} off the first time, {off[-1]:.0f} the last"
    else:
        ends = f"{_cents(median(off[:_FEW]))} off in the beginning, {median(off[-_FEW:]):.0f} now"
    return f"{len(off)} times: {ends}; the nearest {min(off):.0f}."


def delay_words(delay_s: float, *, measured: bool) -> str:
    """How late what the loudspeaker plays comes back."""
    if measured:
        return f"It comes back {1000.0 * delay_s:.0f} ms late; that is taken off what is said of your beat."
    return (
        "The clicks were not surely heard to come back, as with headphones on. "
        f"{1000.0 * delay_s:.0f} ms, which the sound system tells, are taken off what is said of your beat."
    )


def _gained(attempt: Attempt) -> str:
    """What became of it since the time before."""
    gained = attempt.advice.gained_cents
    if gained is None or round(gained) == 0:
        return ""
    if attempt.advice.success:
        return f" That is {_cents(gained)} nearer than the time before: well done."
    return f" {_cents(abs(gained))} {'nearer' if gained > 0.0 else 'further off'} than the time before."


def _cents(cents: float) -> str:
    return f"{cents:.0f} cent{'s' * (round(cents) != 1)}"
