"""The marks of a note in words and numbers: degrees of distance, never right or wrong."""

from __future__ import annotations

from bridge.base.units import CENTS_PER_OCTAVE, clip
from bridge.quantise.third import ThirdZone, blueness
from bridge.study.marks import NoteMarks

#: Nearer than this nobody hears the difference, cents (the best trained listeners: 2 to 3.5, from memory).
_SAME_CENTS = 4.0
#: So far outside the third a note is spoken of from the root, cents.
_OUTSIDE_CENTS = 75.0
#: Nearer to the root above, it is a low root rather than a high seventh, cents.
_UNDER_ROOT_CENTS = 150.0
#: A start nearer than this is on the beat, seconds: nobody tells it apart.
_ON_BEAT_S = 0.010


def place_words(cents: float, zone: ThirdZone) -> str:
    """Where a pitch lies in the third: ``46 cents under straight, blue``; elsewhere how far from the root."""
    if not zone.minor - _OUTSIDE_CENTS <= cents <= zone.straight + _OUTSIDE_CENTS:
        cents -= CENTS_PER_OCTAVE * (cents > CENTS_PER_OCTAVE - _UNDER_ROOT_CENTS)
        side = "above" if cents > 0.0 else "under"
        return f"{abs(cents):.0f} cents {side} the root" if abs(cents) > _SAME_CENTS else "on the root"
    under = zone.straight - cents
    if abs(under) <= _SAME_CENTS:
        return "straight"
    if abs(cents - zone.minor) <= _SAME_CENTS:
        return "minor"
    words = f"{abs(under):.0f} cents {'under' if under > 0.0 else 'above'} straight"
    # As it is told, to a cent.
    return words + ", blue" * (blueness(float(round(cents)), zone) >= 1.0)


def marks_words(marks: NoteMarks, zone: ThirdZone, beat_s: float | None = None) -> str:
    """Everything about one note in one line; with ``beat_s`` (seconds a beat) a release is also told in beats."""
    said = [f"began {place_words(marks.begin_cents, zone)}"]
    release = marks.release
    if release is not None:
        over = f"{release.length_s:.2f} s" + (f" ({release.length_s / beat_s:.1f} beats)" if beat_s else "")
        said.append(f"let go from {max(0.0, release.start_s):.2f} s on over {over}, up {release.rise_cents:.0f} cents")
    if marks.settle_s > 0.0 or abs(marks.settle_cents - marks.begin_cents) > _SAME_CENTS:
        said.append(f"settled after {marks.settle_s:.2f} s: {place_words(marks.settle_cents, zone)}")
    strayed = max(1, round(marks.steady_cents))
    said.append(f"steady within {strayed} cent{'s' * (strayed > 1)}")
    if marks.vibrato is not None:
        said.append(f"vibrato {marks.vibrato.rate_hz:.1f} a second, {marks.vibrato.depth_cents:.0f} cents each way")
    if marks.two_holes:
        said.append(f"two holes in {100.0 * clip(1.0 - marks.clean, 0.0, 1.0):.0f} % of it")
    else:
        said.append("one hole")
    if marks.late_s is not None:
        said.append(beat_words(marks.late_s, beat_s))
    return "; ".join(said)


def beat_words(late_s: float, beat_s: float | None = None) -> str:
    """How a start lies against its beat; ``beat_s`` (seconds a beat) where that is known."""
    return "on the beat" if abs(late_s) <= _ON_BEAT_S else late_words(late_s, beat_s)


def late_words(late_s: float, beat_s: float | None = None) -> str:
    """How far behind or before its beat a start lies; from half a beat on in beats, where their length is known."""
    if beat_s is not None and abs(late_s) > 0.5 * beat_s:
        beats = f"{abs(late_s) / beat_s:.1f}"
        return f"{beats} beat{'s' * (beats != '1.0')} {'late' if late_s > 0.0 else 'early'}"
    return f"{1000.0 * abs(late_s):.0f} ms {'behind' if late_s > 0.0 else 'before'} the beat"
