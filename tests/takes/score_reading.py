"""A score read back: by music21 as a musician's program sees it, and element by element as the standard says."""

from __future__ import annotations

import io
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import music21
from lxml import etree

from bridge.harp.harp import Harp
from bridge.takes.edited import Breakpoint, EditedNote, Tempo
from bridge.takes.score import ScoreStyle, write_score

#: Quarters of each type (MusicXML 4.0, note-type-value).
QUARTERS = {
    "whole": Fraction(4), "half": Fraction(2), "quarter": Fraction(1), "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4), "32nd": Fraction(1, 8), "64th": Fraction(1, 16),
}  # fmt: skip


def made(
    number: int,
    start_s: float,
    length_s: float,
    midi: int,
    *bends: tuple[float, float],
    degree: str = "1",
    hole: int | None = 2,
    air: str = "draw",
    reed: str = "straight",
    reed_bend: float | None = 0.0,
) -> EditedNote:
    """A note with breakpoints (seconds from its start, cents)."""
    points = tuple(Breakpoint(at, cents, 0.8) for at, cents in bends or ((0.0, 0.0),))
    return EditedNote(number, start_s, length_s, midi, degree, 96, hole, air, reed, reed_bend, "", points)


def score_xml(
    notes: list[EditedNote],
    harp: Harp | None,
    tempo: Tempo | None,
    style: ScoreStyle | None = None,
    *,
    changes: list[tuple[float, Harp | None]] | None = None,
    title: str = "",
) -> bytes:
    """What is written of them."""
    out = io.BytesIO()
    write_score(out, notes, harp, tempo, style or ScoreStyle(), changes=changes or [], title=title)
    return out.getvalue()


@dataclass(frozen=True)
class Read:
    """A head as music21 reads it, ties joined: quarters from the beginning, its length, pitch (60 = C4), name."""

    at: float
    length: float
    ps: float
    name: str
    grace: bool
    slid_into: bool
    lyric: str


def read(data: bytes) -> list[Read]:
    """The heads in order."""
    score: Any = music21.converter.parseData(data.decode("utf-8"), format="musicxml")
    slid_into = {id(slide.getLast()) for slide in score.recurse().getElementsByClass("Glissando")}
    heads: list[Read] = []
    for note in score.recurse().notes:
        length = float(note.quarterLength)
        if note.tie is not None and note.tie.type in {"stop", "continue"}:
            last = heads.pop()
            heads.append(
                Read(last.at, last.length + length, last.ps, last.name, last.grace, last.slid_into, last.lyric)
            )
            continue
        at = float(note.getOffsetInHierarchy(score))
        grace, slid = bool(note.duration.isGrace), id(note) in slid_into
        heads.append(Read(at, length, note.pitch.ps, note.pitch.name, grace, slid, note.lyric or ""))
    return heads


def tree(data: bytes) -> Any:  # noqa: ANN401 -- lxml has no types
    """The root element."""
    return etree.fromstring(data)


def alter(note: Any) -> float:  # noqa: ANN401 -- as above
    """The semitones by which a note with a pitch is altered."""
    return float(note.findtext("pitch/alter") or 0.0)


def line(note: Any) -> tuple[str, str]:  # noqa: ANN401 -- as above
    """The line of the staff that it stands on: letter and octave."""
    return note.findtext("pitch/step"), note.findtext("pitch/octave")
