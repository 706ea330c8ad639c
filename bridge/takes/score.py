"""``score.musicxml``: what was played as a musician reads it.

A note is written where it dwells; one that moves by more than a set amount is written as several heads joined by
slides under one slur, since it is one breath: with values of their own where there is room on the grid, as grace notes
where there is none. Thirds that dwell nearer the quarter tone than a semitone have a quarter-tone accidental.

Without a tempo there is no rhythm to write: the score then shows clock time, a quarter for each half second between
dotted lines two seconds apart, without a time signature, and says so.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from statistics import median
from typing import BinaryIO, Literal

from bridge.base.printable import printable
from bridge.harp.harp import Harp
from bridge.harp.tab import Convention
from bridge.takes.edited import EditedNote, Tempo
from bridge.takes.musicxml import Front, Heading, write_musicxml
from bridge.takes.score_bars import Bar, bars
from bridge.takes.score_heads import heads
from bridge.takes.score_pitch import Speller, speller

#: A movement of a third is rarely less than this from minor to straight on a harp tuned just, and vibrato rarely more.
SLIDE_CENTS = 60.0
#: What clock time is written in: a quarter is half a second, as in ``performance.mid``.
CLOCK = Tempo(120.0, 0.0, 4)
_CLOCK_WORDS = "no tempo known: quarter = 0.5 s, bar = 2 s"
#: Median MIDI notes outside of which a treble clef is moved by an octave.
_LOW, _HIGH = 57, 88


@dataclass(frozen=True, slots=True)
class ScoreStyle:
    """What is written how: a slide where a note moves by more than ``slide_cents``; quarter tones on ``also_blue``.

    The third has quarter tones in any case.
    """

    slide_cents: float = SLIDE_CENTS
    also_blue: Collection[Literal["5", "7"]] = ()


_PLAIN = ScoreStyle()


def write_score(
    out: BinaryIO,
    notes: Sequence[EditedNote],
    harp: Harp | None,
    tempo: Tempo | None,
    style: ScoreStyle = _PLAIN,
    *,
    changes: Sequence[tuple[float, Harp | None]] = (),
    title: str = "",
    tab: Convention = "signs",
) -> None:
    """Write the score of ``notes`` to ``out`` as a MusicXML 4.0 file; the same notes give the same bytes.

    ``harp`` is what was played on first (None: unknown) and ``changes`` each later one with the seconds from which on,
    ``tab`` how holes are written. Notes that overlap are cut where the next one begins.
    Of what is written no more than some bars are held at a time. Raises OSError where ``out`` does not take it.
    """
    played = [(0.0, harp), *changes]
    spellers = [(since_s, speller(one, notes, style.also_blue)) for since_s, one in played]
    written = heads(notes, spellers, tempo or CLOCK, slide_cents=style.slide_cents, tab=tab, measured=tempo is not None)
    in_bars = bars(written, (tempo or CLOCK).quarters_in_bar)
    front = Front(
        _clean(title),
        (tempo or CLOCK).quarters_per_minute,
        (tempo or CLOCK).quarters_in_bar,
        tempo is not None,
        _octave(notes),
    )
    write_musicxml(out, front, _headed(in_bars, spellers, () if front.measured else (_CLOCK_WORDS,)))


def _headed(
    written: Iterable[Bar], spellers: Sequence[tuple[float, Speller]], words: Sequence[str]
) -> Iterator[tuple[Bar, Heading]]:
    """Each bar with what to write above it: the harps where they are taken up, with their signatures.

    What was played on first stands above the first bar, after ``words``; what came later, above its first note.
    """
    waiting = [(-math.inf, spellers[0][1]), *spellers[1:]]
    for place, bar in enumerate(written):
        latest_s = max((mark.head.note.start_s for mark in bar.marks if mark.head is not None), default=-math.inf)
        due = [spelled for since_s, spelled in waiting if since_s <= latest_s]
        waiting = [(since_s, spelled) for since_s, spelled in waiting if since_s > latest_s]
        taken_up = [(spelled.harp.name, spelled.signature) for spelled in due if spelled.harp is not None]
        signature = taken_up[-1][1] if taken_up else None
        yield bar, Heading((*(words if place == 0 else ()), *(name for name, _ in taken_up)), signature)


def _octave(notes: Sequence[EditedNote]) -> int:
    """By how many octaves the clef is moved, so that most notes stand near the staff."""
    middle = median(note.midi_note for note in notes) if notes else (_LOW + _HIGH) / 2.0
    return -1 if middle < _LOW else 1 if middle > _HIGH else 0


def _clean(text: str) -> str:
    """The text without what XML cannot hold."""
    return "".join(letter for letter in printable(text) if letter.isprintable())
