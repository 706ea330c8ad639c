"""A score as MusicXML 4.0, partwise (W3C Music Notation Community Group, Final Report of June 2021).

Written so that it is valid against the schema: the order of the children of each element is that of the standard.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import BinaryIO

from lxml import etree

from bridge import __version__
from bridge.takes.score_bars import Bar, Mark
from bridge.takes.score_grid import TICKS
from bridge.takes.score_heads import Head
from bridge.takes.score_pitch import Pitch, Signature

_PART = "P1"
_DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)
_ACCIDENTALS = {
    -1.5: "three-quarters-flat",
    -1.0: "flat",
    -0.5: "quarter-flat",
    0.0: "natural",
    0.5: "quarter-sharp",
    1.0: "sharp",
}
_NO_SIGNATURE = Signature(0, "major")
_INDENT = "  "


@dataclass(frozen=True, slots=True)
class Heading:
    """What stands at the beginning of a bar, apart from notes: words above it, and a key signature from here on."""

    words: Sequence[str] = ()
    signature: Signature | None = None


@dataclass(frozen=True, slots=True)
class Front:
    """What holds for the whole score.

    ``quarters_per_minute`` is what is played at, ``measured`` whether it and the bars mean anything, ``octave`` by how
    many octaves the treble clef is moved.
    """

    title: str
    quarters_per_minute: float
    quarters_in_bar: int
    measured: bool
    octave: int


def write_musicxml(out: BinaryIO, front: Front, bars: Iterable[tuple[Bar, Heading]]) -> None:
    """Write the file to ``out``, from its bars, each with what stands at its beginning. Raises OSError as that does."""
    # Bar by bar, each forgotten once it is written: the tree of an hour as a whole would take many times its file.
    with etree.xmlfile(out, encoding="UTF-8") as file:
        file.write_declaration()
        file.write_doctype(_DOCTYPE)
        with file.element("score-partwise", {"version": "4.0"}):
            for part in _front_matter(front):
                _write(file, part, level=1)
            file.write(f"\n{_INDENT}")
            with file.element("part", {"id": _PART}):
                signature = _NO_SIGNATURE
                for place, (bar, heading) in enumerate(bars):
                    signature = heading.signature or signature
                    _write(file, _measure(front, bar, heading, signature, first=place == 0), level=2)
                file.write(f"\n{_INDENT}")
            file.write("\n")
    out.write(b"\n")


def _write(file: etree._IncrementalFileWriter, element: etree._Element, level: int) -> None:
    """Write an element on lines of its own, ``level`` elements deep."""
    etree.indent(element, _INDENT, level=level)
    file.write("\n" + level * _INDENT)
    file.write(element)


def _front_matter(front: Front) -> Iterator[etree._Element]:
    """What stands before the notes: title, program, parts."""
    if front.title:
        work = etree.Element("work")
        _add(work, "work-title", front.title)
        yield work
    identification = etree.Element("identification")
    encoding = _add(identification, "encoding")
    _add(encoding, "software", f"reedwire {__version__}")
    for element in ("accidental", "beam"):
        _add(encoding, "supports", element=element, type="yes")
    yield identification
    parts = etree.Element("part-list")
    _add(_add(parts, "score-part", id=_PART), "part-name", "Harmonica")
    yield parts


def _measure(front: Front, bar: Bar, heading: Heading, signature: Signature, *, first: bool) -> etree._Element:
    """One bar in ``signature``; the ``first`` says how all are written."""
    measure = etree.Element("measure", number=str(bar.number))
    if bar.number < 1:
        measure.set("implicit", "yes")
    if first or heading.signature is not None:
        _add_attributes(measure, front, signature, first=first)
    if first:
        _add_tempo(measure, front)
    for words in heading.words:
        _add(_add(_add(measure, "direction", placement="above"), "direction-type"), "words", words)
    _add_notes(measure, bar.marks, signature)
    if not front.measured:
        _add(_add(measure, "barline", location="right"), "bar-style", "dotted")
    return measure


def _add(parent: etree._Element, tag: str, text: str | None = None, **attributes: str) -> etree._Element:
    element = etree.SubElement(parent, tag, {name.replace("_", "-"): value for name, value in attributes.items()})
    element.text = text
    return element


def _add_attributes(measure: etree._Element, front: Front, signature: Signature, *, first: bool) -> None:
    attributes = _add(measure, "attributes")
    if first:
        _add(attributes, "divisions", str(TICKS))
    key = _add(attributes, "key")
    _add(key, "fifths", str(signature.fifths))
    _add(key, "mode", signature.mode)
    if not first:
        return
    time = _add(attributes, "time")
    if not front.measured:
        time.set("print-object", "no")
    _add(time, "beats", str(front.quarters_in_bar))
    _add(time, "beat-type", "4")
    clef = _add(attributes, "clef")
    _add(clef, "sign", "G")
    _add(clef, "line", "2")
    if front.octave:
        _add(clef, "clef-octave-change", str(front.octave))


def _add_tempo(measure: etree._Element, front: Front) -> None:
    """The metronome mark; where the tempo means nothing only what a player of the file needs."""
    pace = f"{front.quarters_per_minute:.6g}"
    if front.measured:
        direction = _add(measure, "direction", placement="above")
        metronome = _add(_add(direction, "direction-type"), "metronome")
        _add(metronome, "beat-unit", "quarter")
        _add(metronome, "per-minute", pace)
        _add(direction, "sound", tempo=pace)
    else:
        _add(measure, "sound", tempo=pace)


def _add_notes(measure: etree._Element, marks: Sequence[Mark], signature: Signature) -> None:
    # An accidental holds to the end of the bar, for its line alone.
    in_force: dict[tuple[str, int], float] = {}
    for mark in marks:
        note = _add(measure, "note")
        if mark.head is None:
            _add_rest(note, mark)
            continue
        pitch = mark.head.pitch
        line = pitch.step, pitch.octave
        shown = mark.first and in_force.get(line, signature.alter(pitch.step)) != pitch.alter
        if mark.first:
            in_force[line] = pitch.alter
        _add_note(note, mark, mark.head, shown=shown)


def _add_rest(note: etree._Element, mark: Mark) -> None:
    rest = _add(note, "rest")
    if mark.value is not None and mark.value.type is None:
        rest.set("measure", "yes")
    _add_length(note, mark)
    _add(note, "voice", "1")
    _add_type(note, mark, None)
    if mark.tuplet:
        _add_tuplet(_add(note, "notations"), mark)


def _add_note(note: etree._Element, mark: Mark, head: Head, *, shown: bool) -> None:
    if mark.value is None:
        _add(note, "grace", slash="yes")
    _add_pitch(note, head.pitch)
    _add_length(note, mark)
    for type_, tied in (("stop", not mark.first), ("start", not mark.last)):
        if tied:
            _add(note, "tie", type=type_)
    _add(note, "voice", "1")
    _add_type(note, mark, _ACCIDENTALS[head.pitch.alter] if shown else None)
    for number, beam in enumerate(mark.beams, start=1):
        _add(note, "beam", beam, number=str(number))
    _add_notations(note, mark, head)
    if mark.first:
        lyric = _add(note, "lyric", number="1")
        _add(lyric, "syllabic", "single")
        _add(lyric, "text", head.tab)


def _add_pitch(note: etree._Element, pitch: Pitch) -> None:
    element = _add(note, "pitch")
    _add(element, "step", pitch.step)
    if pitch.alter:
        _add(element, "alter", f"{pitch.alter:g}")
    _add(element, "octave", str(pitch.octave))


def _add_length(note: etree._Element, mark: Mark) -> None:
    if mark.value is not None:
        _add(note, "duration", str(mark.value.ticks))


def _add_type(note: etree._Element, mark: Mark, accidental: str | None) -> None:
    """Type, dots, accidental and what a tuplet makes of them."""
    value = mark.value
    if value is None:
        _add(note, "type", "eighth")
    elif value.type is not None:
        _add(note, "type", value.type)
        for _ in range(value.dots):
            _add(note, "dot")
    if accidental is not None:
        _add(note, "accidental", accidental)
    if value is not None and value.tuplet is not None:
        time = _add(note, "time-modification")
        _add(time, "actual-notes", str(value.tuplet.actual))
        _add(time, "normal-notes", str(value.tuplet.normal))
        _add(time, "normal-type", value.tuplet.of)


def _add_notations(note: etree._Element, mark: Mark, head: Head) -> None:
    notations = etree.Element("notations")
    for type_, tied in (("stop", not mark.first), ("start", not mark.last)):
        if tied:
            _add(notations, "tied", type=type_)
    for type_ in mark.slur:
        _add(notations, "slur", type=type_, number="1")
    _add_tuplet(notations, mark)
    for type_, number in (("stop", mark.slides_in), ("start", mark.slides_out)):
        if number:
            _add(notations, "slide", type=type_, number=str(number), line_type="solid")
    if mark.first:
        _add(_add(notations, "technical"), "other-technical", _machine_words(head))
    if len(notations):
        note.append(notations)


def _add_tuplet(notations: etree._Element, mark: Mark) -> None:
    for type_ in mark.tuplet:
        _add(notations, "tuplet", type=type_, number="1", **({"bracket": "yes"} if type_ == "start" else {}))


def _machine_words(head: Head) -> str:
    """What a program may want to know of a head: ``reedwire note=7 hole=3 air=draw reed=bend bend=-52.0``."""
    note = head.note
    known = {"hole": note.hole, "air": note.air, "reed": note.reed}
    words = [f"{name}={value}" for name, value in known.items() if value]
    return " ".join(["reedwire", f"note={note.id}", *words, f"midi={note.midi_note}", f"bend={head.bend_cents:.1f}"])
