"""Names of notes as a harp player reads them: over the root that they are played over.

The third over E is G sharp, not A flat: a degree keeps the letter that it has in the scale (common practice, no
source). What would need a name that nobody reads at once, such as C flat, has the plain one.
"""

from __future__ import annotations

import re

_PLAIN = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
_LETTERS = "CDEFGAB"
_NATURAL = (0, 2, 4, 5, 7, 9, 11)
#: How many letters above the root's the degrees 1 b2 2 b3 3 4 b5 5 b6 6 b7 7 have theirs.
_LETTERS_UP = (0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6)
#: "Ay", "ee", "ef", with flat or sharp or alone.
_SPOKEN_WITH_VOWEL = re.compile(r"[AEF][b#]?(?![A-Za-z])")
_SIGNS = {-1: "b", 0: "", 1: "#"}
_HARD_TO_READ = ("Cb", "Fb", "E#", "B#")
_SEMITONES_PER_OCTAVE = 12


def note_name(midi_note: int, root_midi: int | None = None) -> str:
    """Name of a MIDI note over the root (any octave of it), middle C (60) being C4 (scientific pitch notation)."""
    return f"{letter(midi_note, root_midi)}{midi_note // _SEMITONES_PER_OCTAVE - 1}"


def with_article(name: str) -> str:
    """``name``, which begins with a note's letter, after a or an, as it is spoken: ``an F# harp``, ``a low F harp``."""
    return f"{'an' if _SPOKEN_WITH_VOWEL.match(name) else 'a'} {name}"


def letter(midi_note: int, root_midi: int | None = None, root_name: str | None = None) -> str:
    """Name of a MIDI note without its octave; as the trade spells it where no root is known.

    ``root_name`` is what the root is called where that is not its usual name, such as ``C#``.
    """
    plain = _PLAIN[midi_note % _SEMITONES_PER_OCTAVE]
    if root_midi is None:
        return plain
    root = _LETTERS.index((root_name or _PLAIN[root_midi % _SEMITONES_PER_OCTAVE])[0])
    own = (root + _LETTERS_UP[(midi_note - root_midi) % _SEMITONES_PER_OCTAVE]) % len(_LETTERS)
    # From -5 to 6, so that B as a C flat is one semitone under it.
    raised = (midi_note - _NATURAL[own] + 5) % _SEMITONES_PER_OCTAVE - 5
    if raised not in _SIGNS or (name := _LETTERS[own] + _SIGNS[raised]) in _HARD_TO_READ:
        return plain
    return name
