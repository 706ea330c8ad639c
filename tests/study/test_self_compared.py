"""Whoever plays what the teacher plays has nothing to mend: every playing beside itself, at any tempo and octave."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from bridge.capture.player import curve_at
from bridge.quantise.third import ThirdZone
from bridge.study.alignment import MarkedNote
from bridge.study.comparison import compare
from bridge.study.comparison_words import others_words, rows
from bridge.study.marks import marks_of
from bridge.study.note_frames import NoteFrames
from bridge.study.settings import StudySettings

ZONE = ThirdZone(400.0, 300.0, 350.0, 315.0, 365.0)
SETTINGS = StudySettings()
#: What is said where there is no difference.
NONE = {"the same", "as quickly, as far", "on the beat", "the beat is not known", "as fast, as deep"}
#: A failure is looked into by hand: making it smaller takes minutes.
PHASES = (Phase.explicit, Phase.reuse, Phase.generate)


@dataclass(frozen=True)
class Note:
    """From ``low``, held so long, let go of so long to ``high``, held so long; all seconds; ``clean`` of the start."""

    low: float
    high: float
    held_s: float
    release_s: float
    after_s: float
    clean_part: float = 1.0

    @property
    def length_s(self) -> float:
        """The whole of it."""
        return self.held_s + self.release_s + self.after_s

    def marked(self, start_s: float, times: float = 1.0, up_cents: float = 0.0) -> MarkedNote:
        """The note as it is heard: begun at ``start_s``, ``times`` as slow, ``up_cents`` higher."""
        time_s = np.arange(0.0, self.length_s * times, 0.0027)
        corners = ((self.held_s * times, self.low), ((self.held_s + self.release_s) * times, self.high))
        clean = np.where(time_s < self.clean_part * self.length_s * times, 1.0, 0.0)
        cents = curve_at(corners, time_s) + up_cents
        end_s = start_s + self.length_s * times
        frames = NoteFrames(start_s, end_s, start_s + time_s, cents, np.full(len(time_s), -20.0), clean)
        marks = marks_of(frames)
        assert marks is not None
        return MarkedNote(frames, marks)


def phrase(notes: list[Note], times: float = 1.0, up_cents: float = 0.0) -> list[MarkedNote]:
    """The notes one after the other, a little rest between."""
    starts_s = np.cumsum([1.0, *(note.length_s + 0.15 for note in notes)])
    return [note.marked(at_s * times, times, up_cents) for note, at_s in zip(notes, starts_s.tolist(), strict=False)]


def assert_nothing_to_mend(teacher: list[MarkedNote], student: list[MarkedNote]) -> None:
    """No advice, no difference in any row, no note that is left over."""
    found = compare(teacher, student, ZONE, ZONE, SETTINGS)
    assert found.advice.fault is None, found.advice.sentence
    assert not found.others.left_out + found.others.added, others_words(found.others)
    for third in found.thirds:
        assert third.student is not None
        for row in rows(third, third.student.marks, ZONE, ZONE, found.time):
            assert row.difference in NONE, row


#: A third that is let go of at once, or late, and hardly held after it.
RELEASED = st.builds(
    Note,
    low=st.floats(290.0, 350.0),
    high=st.floats(385.0, 402.0),
    held_s=st.floats(0.1, 0.8),
    release_s=st.floats(0.1, 0.6),
    after_s=st.floats(0.0, 1.0),
    clean_part=st.sampled_from((1.0, 0.85, 0.5)),
)
#: A note of one pitch.
PLAIN = st.builds(
    lambda cents, length_s: Note(cents, cents, length_s, 0.01, 0.0),
    st.sampled_from((-500.0, 0.0, 300.0, 350.0, 400.0, 500.0, 700.0, 1000.0, 1200.0)),
    st.floats(0.12, 1.0),
)
#: Without any third nothing is compared at all.
THIRD = Note(320.0, 400.0, 0.5, 0.4, 0.5)
#: Long enough that no note is lost when it is played faster. What is let go of about where a release stops to be how
#: the note ends may be the one or the other.
CLEAR = (
    st.one_of(RELEASED, PLAIN)
    .map(lambda note: Note(note.low, note.high, note.held_s + 0.1, note.release_s, note.after_s + 0.12))
    .filter(lambda note: not 0.27 < (note.release_s + note.after_s) / note.length_s < 0.4)
)
PHRASES = st.lists(st.one_of(RELEASED, PLAIN), min_size=1, max_size=8)


@given(notes=PHRASES)
@settings(deadline=None, max_examples=60, phases=PHASES)
def test_a_playing_beside_itself_has_nothing_to_mend(notes: list[Note]) -> None:
    """Whatever it is: thirds let go of in a moment, cut off before they come to rest, two holes for a while."""
    one = phrase([*notes, THIRD])
    assert_nothing_to_mend(one, one)


@given(notes=st.lists(CLEAR, min_size=1, max_size=8), times=st.floats(0.8, 1.25), octaves=st.integers(-1, 2))
@settings(deadline=None, max_examples=40, phases=PHASES)
def test_so_it_has_more_slowly_and_in_another_octave(notes: list[Note], times: float, octaves: int) -> None:
    """Cents are over the root, so another key is the same; three notes at least tell the tempo."""
    played = [*notes, THIRD, THIRD, THIRD]
    assert_nothing_to_mend(phrase(played), phrase(played, times, 1200.0 * octaves))


@pytest.mark.parametrize(
    ("held_s", "release_s", "after_s", "settled", "settle_s"),
    [
        (0.35, 0.15, 0.08, 400.0, 0.50),
        (0.20, 0.15, 0.05, 400.0, 0.35),
        (0.40, 0.60, 0.30, 400.0, 1.00),
        (1.50, 0.15, 0.10, 301.0, 0.00),
    ],
)
def test_a_note_settles_where_it_was_let_go_to(
    held_s: float, release_s: float, after_s: float, settled: float, settle_s: float
) -> None:
    """However short it was held there; only what comes at the very end of a long note is no settling."""
    marks = Note(301.0, 400.0, held_s, release_s, after_s).marked(0.0).marks
    assert marks.settle_cents == pytest.approx(settled, abs=5.0)
    assert marks.settle_s == pytest.approx(settle_s, abs=0.02)
