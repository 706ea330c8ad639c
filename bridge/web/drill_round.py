"""One time through an exercise on the board: what is heard of it, out of the records, and what that comes to."""

from __future__ import annotations

from bridge.base.events import NoteOff, NoteOn, PitchPoint
from bridge.base.records import ClicksBack, Record
from bridge.study.attempt import TAIL_S, Attempt, judge
from bridge.study.attempt_words import SILENT, delay_words
from bridge.study.exercises import COUNT_IN, Exercise
from bridge.study.marks import Beat, marks_of
from bridge.study.note_frames import NoteFrames, NoteListener
from bridge.study.settings import StudySettings


class Round:
    """Takes the records while ``exercise`` is played, from the count-in on.

    The page sounds the first beat of the count-in at ``first_s`` of the stream, and one every ``beat_s`` seconds.
    ``latency_s`` is what the page says that its loudspeaker takes, None where the beat is only seen. ``clean_least`` is
    as in :func:`marks_of`.
    """

    def __init__(
        self, exercise: Exercise, beat_s: float, first_s: float, latency_s: float | None, clean_least: float
    ) -> None:
        self.exercise = exercise
        self._beat_s = beat_s
        self._first_s = first_s
        self._clicks = latency_s is not None
        self._delay_s = latency_s or 0.0
        self._measured = False
        self._clean_least = clean_least
        self._listener = NoteListener()
        self._sounding: NoteOn | None = None
        self._heard: list[NoteFrames] = []

    @property
    def beat(self) -> Beat:
        """The beat of the exercise; the first one is that of its first note."""
        return Beat(self._first_s + COUNT_IN * self._beat_s, self._beat_s, self._delay_s)

    @property
    def delay_words(self) -> str:
        """How late the beat comes back, and how that is known; once the count-in is over."""
        return delay_words(self._delay_s, measured=self._measured) if self._clicks else SILENT

    def take(self, record: Record) -> bool:
        """Take the next record; whether the exercise is over with it."""
        if isinstance(record, PitchPoint | NoteOn | NoteOff):
            self._hear(record)
        if isinstance(record, ClicksBack) and self._clicks and record.delay_s >= 0.0:
            self._delay_s, self._measured = record.delay_s, True
        if not isinstance(record, PitchPoint):
            return False
        if record.time_s < self.beat.at(self.exercise.beats) + TAIL_S:
            return False
        if self._sounding is not None:
            # What is held for longer has told all that there is to tell.
            self._hear(NoteOff(self._sounding.note_id, record.time_s, record.ready_s))
        return True

    def judged(self, settings: StudySettings, before_cents: float | None) -> Attempt:
        """What it came to, once it is over; ``before_cents`` is how far off the time before was."""
        marks = [marks_of(frames, clean_least=self._clean_least) for frames in self._heard]
        notes = [each for each in marks if each is not None]
        return judge(self.exercise, notes, settings, self.beat, before_cents)

    def _hear(self, event: PitchPoint | NoteOn | NoteOff) -> None:
        frames = self._listener.take(event)
        if frames is not None:
            self._heard.append(frames)
        if not isinstance(event, PitchPoint):
            self._sounding = event if isinstance(event, NoteOn) else None
