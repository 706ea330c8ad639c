"""What the sampled harmonica plays: short scores for a ten-hole diatonic harp in C, moved to other keys by semitones.

Layout source: OEIS A291810. Bends go from a hole's higher reed down to a semitone above its lower one; in cross
position the root is draw 2 and the third draw 3; thirds are begun low and released upwards (common practice,
no source).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from sounds.known import Bend

#: Semitones from a C harp of every harp key from low F to high G.
KEYS = {
    "low-F": -7, "G": -5, "Ab": -4, "A": -3, "Bb": -2, "B": -1, "C": 0, "Db": 1,
    "D": 2, "Eb": 3, "E": 4, "F": 5, "F#": 6, "high-G": 7,
}  # fmt: skip
BLOW = (60, 64, 67, 72, 76, 79, 84, 88, 91, 96)
DRAW = (62, 67, 71, 74, 77, 81, 83, 86, 89, 93)
THIRD = DRAW[2]
HELD = Bend()


@dataclass(frozen=True)
class ScoreNote:
    """One note to be played: seconds, MIDI number, how it bends, and the hole it belongs to."""

    start_s: float
    length_s: float
    midi: int
    bend: Bend = HELD
    hole: int = 0
    air: str = ""


Score = tuple[ScoreNote, ...]


def in_key(score: Score, key: str) -> Score:
    """The score on another harp; KeyError for a key not in ``KEYS``."""
    return tuple(replace(note, midi=note.midi + KEYS[key]) for note in score)


def reeds_and_bends() -> list[tuple[int, str, int]]:
    """(hole, air, MIDI number) of every blow and draw note and every bend of a C harp, hole by hole."""
    found: list[tuple[int, str, int]] = []
    for hole, (blow, draw) in enumerate(zip(BLOW, DRAW, strict=True), start=1):
        found += [(hole, "blow", blow), (hole, "draw", draw)]
        air = "draw" if draw > blow else "blow"
        found += [(hole, air, midi) for midi in range(max(blow, draw) - 1, min(blow, draw), -1)]
    return found


def every_hole(length_s: float = 0.32, gap_s: float = 0.13) -> Score:
    """Every reed and every bend, held."""
    return tuple(
        ScoreNote(0.2 + i * (length_s + gap_s), length_s, midi, HELD, hole, air)
        for i, (hole, air, midi) in enumerate(reeds_and_bends())
    )


def blue_thirds(begun_cents: tuple[float, ...] = (-70.0, -80.0, -90.0, -100.0, -110.0)) -> Score:
    """Thirds begun below the straight third and released upwards while they sound, each after its root on draw 2."""
    notes: list[ScoreNote] = []
    start = 0.2
    for i, cents in enumerate(begun_cents):
        notes.append(ScoreNote(start, 0.22, DRAW[1], HELD, 2, "draw"))
        release = 0.2 + 0.05 * i
        third = Bend(((0.12, cents), (0.12 + release, 0.0)))
        notes.append(ScoreNote(start + 0.32, 0.75, THIRD, third, 3, "draw"))
        start += 1.25
    return tuple(notes)


def tongued_repeats(
    count: int = 10,
    gap_s: float = 0.045,
    period_s: float = 0.15,
    midi: int = THIRD,
    vibrato_cents: float = 0.0,
    deeper_cents: float = 0.0,
) -> Score:
    """One note tongued again and again; ``deeper_cents`` is how far it has been bent by the last one."""
    return tuple(
        ScoreNote(
            0.2 + i * period_s,
            period_s - gap_s,
            midi,
            Bend(((0.0, deeper_cents * i / max(1, count - 1)),), vibrato_cents),
            3 if midi == THIRD else 0,
            "draw" if midi == THIRD else "",
        )
        for i in range(count)
    )


def minor_to_major() -> Score:
    """One note that moves from the minor to the major third while it sounds."""
    return (ScoreNote(0.2, 1.2, THIRD, Bend(((0.3, -100.0), (0.85, 0.0))), 3, "draw"),)


def deep_draw_bend(down_s: float = 0.35, up_s: float = 0.35) -> Score:
    """Draw 3 bent three semitones down and back, as one note."""
    bend = Bend(((0.3, 0.0), (0.3 + down_s, -300.0), (0.55 + down_s, -300.0), (0.55 + down_s + up_s, 0.0)))
    return (ScoreNote(0.2, 0.95 + down_s + up_s, THIRD, bend, 3, "draw"),)


def vibrato(cents: float = 50.0, hz: float = 6.0) -> Score:
    """Held notes low, middle and high with vibrato of ``cents`` to either side."""
    places = ((1, "draw", DRAW[0]), (3, "draw", DRAW[2]), (6, "blow", BLOW[5]), (8, "draw", DRAW[7]))
    return tuple(
        ScoreNote(0.2 + 1.2 * i, 1.0, midi, Bend(vibrato_cents=cents, vibrato_hz=hz, vibrato_from_s=0.15), hole, air)
        for i, (hole, air, midi) in enumerate(places)
    )


def phrase() -> Score:
    """A blues phrase in cross position with scoops, a blue third, repeats, vibrato, a deep bend and quick notes."""
    plan = (
        ScoreNote(0.00, 0.25, DRAW[1], HELD, 2, "draw"),
        ScoreNote(0.30, 0.60, THIRD, Bend(((0.1, -95.0), (0.4, 0.0))), 3, "draw"),
        ScoreNote(0.95, 0.14, DRAW[3], Bend(((0.0, -60.0), (0.09, 0.0))), 4, "draw"),
        ScoreNote(1.12, 0.10, BLOW[3], HELD, 4, "blow"),
        ScoreNote(1.25, 0.10, THIRD, Bend(((0.0, -45.0),)), 3, "draw"),
        ScoreNote(1.40, 0.70, DRAW[1], Bend(vibrato_cents=35.0, vibrato_hz=5.5, vibrato_from_s=0.2), 2, "draw"),
        ScoreNote(2.25, 0.105, THIRD, Bend(((0.0, -20.0),)), 3, "draw"),
        ScoreNote(2.40, 0.105, THIRD, Bend(((0.0, -40.0),)), 3, "draw"),
        ScoreNote(2.55, 0.105, THIRD, Bend(((0.0, -60.0),)), 3, "draw"),
        ScoreNote(2.70, 0.75, THIRD, Bend(((0.1, -80.0), (0.25, -300.0), (0.4, -300.0), (0.6, -50.0))), 3, "draw"),
        ScoreNote(3.55, 0.20, DRAW[0], Bend(((0.0, -100.0), (0.12, 0.0))), 1, "draw"),
        ScoreNote(3.80, 0.12, BLOW[5], HELD, 6, "blow"),
        ScoreNote(3.95, 0.12, DRAW[5], Bend(((0.0, -90.0), (0.08, 0.0))), 6, "draw"),
        ScoreNote(4.10, 0.60, BLOW[7], Bend(((0.05, 0.0), (0.2, -100.0), (0.4, 0.0))), 8, "blow"),
        ScoreNote(4.80, 0.80, BLOW[2], Bend(vibrato_cents=45.0, vibrato_hz=6.5, vibrato_from_s=0.3), 3, "blow"),
    )
    return tuple(replace(note, start_s=0.2 + note.start_s) for note in plan)


SCORES: dict[str, Callable[[], Score]] = {
    "every hole": every_hole,
    "blue thirds": blue_thirds,
    "tongued repeats": tongued_repeats,
    "minor to major": minor_to_major,
    "deep draw bend": deep_draw_bend,
    "vibrato": vibrato,
    "phrase": phrase,
}
