"""``score.musicxml``: what was played as a musician reads it.

A note is written where it dwells; one that moves by more than a set amount is written as several heads joined by
slides under one slur, since it is one breath: with values of their own where there is room on the grid, as grace notes
where there is none. Thirds that dwell nearer the quarter tone than a semitone have a quarter-tone accidental.

Without a tempo there is no rhythm to write: the score then shows clock time, a quarter for each half second between
dotted lines two seconds apart, without a time signature, and says so.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Literal

from bridge.base.printable import printable
from bridge.harp.harp import Harp
from bridge.harp.tab import Convention
from bridge.takes.edited import EditedNote, Tempo
from bridge.takes.musicxml import Front, Heading, musicxml
from bridge.takes.score_bars import bars
from bridge.takes.score_grid import TICKS
from bridge.takes.score_heads import Head, heads
from bridge.takes.score_pitch import Signature, speller

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


def score_xml(
    notes: Sequence[EditedNote],
    harp: Harp | None,
    tempo: Tempo | None,
    style: ScoreStyle = _PLAIN,
    *,
    changes: Sequence[tuple[float, Harp | None]] = (),
    title: str = "",
    tab: Convention = "signs",
) -> bytes:
    """The score of ``notes`` as a MusicXML 4.0 file; the same notes give the same bytes.

    ``harp`` is what was played on first (None: unknown) and ``changes`` each later one with the seconds from which on,
    ``tab`` how holes are written. Notes that overlap are cut where the next one begins.
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
    signatures = [spelled.signature for _, spelled in spellers]
    return musicxml(front, in_bars, _headings(written, played, signatures, front, in_bars[0].number))


def _headings(
    written: Sequence[Head],
    harps: Sequence[tuple[float, Harp | None]],
    signatures: Sequence[Signature | None],
    front: Front,
    first: int,
) -> dict[int, Heading]:
    """What to write above bars: the harps where they are taken up, with their signatures, and what the bars mean."""
    found = {first: Heading(() if front.measured else (_CLOCK_WORDS,))}
    for number, ((since_s, harp), signature) in enumerate(zip(harps, signatures, strict=True)):
        head = next((head for head in written if head.note.start_s >= since_s), None)
        if harp is None or (number and head is None):
            continue
        bar = first if head is None or not number else head.start // (TICKS * front.quarters_in_bar) + 1
        before = found.get(bar, Heading())
        found[bar] = Heading((*before.words, harp.name), signature)
    return found


def _octave(notes: Sequence[EditedNote]) -> int:
    """By how many octaves the clef is moved, so that most notes stand near the staff."""
    middle = median(note.midi_note for note in notes) if notes else (_LOW + _HIGH) / 2.0
    return -1 if middle < _LOW else 1 if middle > _HIGH else 0


def _clean(text: str) -> str:
    """The text without what XML cannot hold."""
    return "".join(letter for letter in printable(text) if letter.isprintable())
