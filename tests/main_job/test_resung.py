"""The player's own sound sung again: edits that a user makes, on the sampled harmonica, as Praat hears them.

The limits are those that the project set itself: 5 cents from the edited curve in 19 of 20 points of Praat's pitch
(P. Boersma, Proc. IFA 17 (1993)), level within 1 dB, what was not edited bit for bit, no click. Praat's window is
centred on its point, so that no lag has to be taken out; the first 40 and the last 30 ms of a note are not measured.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from bridge.takes.edited import EditedNote
from bridge.takes.resinging import Resung, resing
from bridge.takes.resinging_plan import LEAD_S
from sounds.known import Bend
from sounds.scores import DRAW, THIRD, ScoreNote
from takes.edited_takes import RATE, PlayedTake, bent, off_cents, played_take

Floats = NDArray[np.float64]

#: The longest that a note's sound goes on after its end, in seconds.
RING_S = 0.25
LIMIT_CENTS, LIMIT_DB = 5.0, 1.0
#: The largest step from sample to sample against that of the player's sound there: a click has many times as much.
LIMIT_STEP = 1.3
#: A third at 350 cents above its root, one with vibrato, and notes in legato.
SCORE = (
    ScoreNote(0.3, 0.4, DRAW[1]),
    ScoreNote(0.8, 1.0, THIRD, Bend(((0.0, -50.0),))),
    ScoreNote(2.1, 0.6, DRAW[3]),
    ScoreNote(3.0, 1.2, THIRD, Bend(((0.0, -20.0),), 30.0, 5.5, 0.2)),
    ScoreNote(4.3, 0.5, DRAW[1]),
    ScoreNote(4.8, 0.5, THIRD),
    ScoreNote(5.3, 0.5, DRAW[3]),
)
BLUE, VIBRATO, LEGATO = 1, 3, (4, 5, 6)


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> PlayedTake:
    """What ``transcribe`` makes of the score."""
    found = played_take(SCORE, tmp_path_factory.mktemp("resung"))
    assert [note.midi_note for note in found.notes] == [note.midi for note in SCORE]
    return found


@dataclass(frozen=True, eq=False)
class Again:
    """The sound as it was played and as it is sung again, and the notes wanted."""

    before: Floats
    after: Floats
    wanted: tuple[EditedNote, ...]
    report: Resung

    @property
    def changed_s(self) -> tuple[float, float]:
        """From the first sample that differs to the last, in seconds."""
        changed = np.flatnonzero(self.before != self.after)
        return changed[0] / RATE, changed[-1] / RATE

    def check(self, number: int, from_s: float = 0.04, to_s: float | None = None) -> tuple[float, float, float]:
        """Pitch and level of a note are as they should be, and nothing clicks.

        By how much, in cents (95 of 100), in dB at most, and as the largest sample step against the original's.
        """
        note = self.wanted[number]
        to_s = note.length_s - 0.03 if to_s is None else to_s
        off = np.abs(off_cents(self.after, note, from_s, to_s))
        assert len(off) > 0.9 * (to_s - from_s) / 0.002
        off_by = float(np.percentile(off, 95))
        assert off_by < LIMIT_CENTS
        inside = slice(round((note.start_s + from_s) * RATE), round((note.start_s + to_s) * RATE))
        levels_db = [_levels_db(samples[inside]) for samples in (self.before, self.after)]
        louder_db = float(np.abs(levels_db[1] - levels_db[0]).max())
        assert louder_db < LIMIT_DB
        near = slice(round(self.changed_s[0] * RATE) - 500, round(self.changed_s[1] * RATE) + 500)
        steps = [np.abs(np.diff(samples[near])).max() for samples in (self.before, self.after)]
        assert steps[1] < LIMIT_STEP * steps[0]
        return round(off_by, 2), round(louder_db, 3), round(float(steps[1] / steps[0]), 3)


def _levels_db(samples: Floats) -> Floats:
    """Level of every 40 ms."""
    size = RATE * 40 // 1000
    count = len(samples) // size
    return np.asarray(10.0 * np.log10(np.mean(samples[: count * size].reshape(count, size) ** 2, axis=1)))


def sing(take: PlayedTake, folder: Path, edits: dict[int, Callable[[EditedNote], EditedNote]]) -> Again:
    """The take with some notes edited, by their place."""
    wanted = tuple(edits[place](note) if place in edits else note for place, note in enumerate(take.notes))
    out = folder / "resung.wav"
    report = resing(take.sound, out, take.notes, wanted)
    assert soundfile.info(out).subtype == soundfile.info(take.sound).subtype == "PCM_24"
    return Again(take.samples, np.asarray(soundfile.read(out)[0]), wanted, report)


def up(cents: float) -> Callable[[EditedNote], EditedNote]:
    """The whole curve so much higher."""
    return lambda note: bent(note, lambda _, bend: bend + cents)


EDITS: dict[str, tuple[int, Callable[[EditedNote], EditedNote]]] = {
    "the third from 350 to 386": (BLUE, up(36.0)),
    "a note straightened": (VIBRATO, lambda note: bent(note, lambda *_: -20.0)),
    "vibrato added": (BLUE, lambda note: bent(note, lambda at, bend: bend + 40.0 * np.sin(2.0 * np.pi * 6.0 * at))),
    "two semitones up": (BLUE, up(200.0)),
    "two semitones down": (BLUE, up(-200.0)),
    "another note number": (BLUE, lambda note: replace(note, midi_note=note.midi_note + 1)),
}


@pytest.mark.parametrize("name", EDITS)
def test_an_edited_note_sounds_as_its_curve_says(
    name: str, take: PlayedTake, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    """Pitch and level are right, and every sample outside the note with its ring is the player's own."""
    place, edit = EDITS[name]
    again = sing(take, tmp_path, {place: edit})
    record_property("off, cents; level, dB; largest step, times", again.check(place))
    note = again.wanted[place]
    assert again.changed_s[0] >= note.start_s - LEAD_S - 1.0 / RATE
    assert again.changed_s[1] <= note.end_s + RING_S
    assert again.report.unheard == 0


def test_an_edit_from_the_middle_of_a_note_leaves_its_beginning(take: PlayedTake, tmp_path: Path) -> None:
    """Up to where the curve leaves the played one, the samples are the player's own; the third then rises by 36."""
    edit = _edited_between((0.4, 0.5, 9.0, 9.1), 36.0)
    again = sing(take, tmp_path, {BLUE: edit})
    again.check(BLUE, 0.35)
    assert again.changed_s[0] >= again.wanted[BLUE].start_s + 0.4


@pytest.mark.parametrize("corners", [(0.25, 0.35, 0.6, 0.7), (0.3, 0.38, 0.7, 0.76), (0.5, 0.55, 0.8, 0.86)])
@pytest.mark.parametrize("cents", [36.0, -36.0, 75.0])
def test_an_edit_inside_a_note_leaves_both_ends(
    corners: tuple[float, float, float, float], cents: float, take: PlayedTake, tmp_path: Path
) -> None:
    """Between the corners the curve is another; outside, the same note goes on in the player's own samples."""
    again = sing(take, tmp_path, {BLUE: _edited_between(corners, cents)})
    again.check(BLUE, corners[0] - 0.05, corners[-1] + 0.05)
    start_s = again.wanted[BLUE].start_s
    assert again.changed_s[0] >= start_s + corners[0] - 0.005
    assert again.changed_s[1] <= start_s + corners[-1] + 0.005


def _edited_between(corners: tuple[float, float, float, float], cents: float) -> Callable[[EditedNote], EditedNote]:
    """The curve raised between the corners, in seconds of the note."""
    return lambda note: bent(note, lambda at, bend: bend + cents * float(np.interp(at, corners, (0.0, 1.0, 1.0, 0.0))))


def test_edited_notes_in_legato_follow_each_other(take: PlayedTake, tmp_path: Path) -> None:
    """Three notes that touch, each edited another way, are all as they should be."""
    again = sing(take, tmp_path, dict(zip(LEGATO, map(up, (60.0, -60.0, 30.0)), strict=True)))
    for place in LEGATO:
        again.check(place)
    assert again.changed_s[0] >= again.wanted[LEGATO[0]].start_s - LEAD_S - 1.0 / RATE


def test_one_edited_note_in_legato_leaves_its_neighbours(take: PlayedTake, tmp_path: Path) -> None:
    """Of three notes that touch only the middle one is sung again."""
    middle = LEGATO[1]
    again = sing(take, tmp_path, {middle: up(-60.0)})
    again.check(middle)
    assert again.changed_s[0] >= again.wanted[middle - 1].end_s - LEAD_S
    assert again.changed_s[1] <= again.wanted[middle + 1].start_s


def test_a_longer_note_with_another_curve(take: PlayedTake, tmp_path: Path) -> None:
    """The last note drawn out to 1.2 s with vibrato keeps its pitch on the curve to the end."""

    def edit(note: EditedNote) -> EditedNote:
        points = tuple(replace(point, at_s=point.at_s * 1.2 / note.length_s) for point in note.points)
        longer = replace(note, length_s=1.2, points=points)
        return bent(longer, lambda at, _: 20.0 * np.sin(2.0 * np.pi * 5.0 * at))

    last = len(SCORE) - 1
    wanted = (*take.notes[:-1], edit(take.notes[-1]))
    resing(take.sound, tmp_path / "resung.wav", take.notes, wanted)
    after = np.asarray(soundfile.read(tmp_path / "resung.wav")[0])
    assert np.percentile(np.abs(off_cents(after, wanted[last], 0.08, 1.15)), 95) < LIMIT_CENTS
