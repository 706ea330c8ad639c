"""A teacher's and a student's playing made into one page that can be sent."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path

from bridge.base.errors import UserError
from bridge.harp.note_names import with_article
from bridge.study.alignment import MarkedNote, is_third
from bridge.study.common_time import CommonTime, told_time
from bridge.study.comparison import ComparedThird, Comparison, compare, long_enough
from bridge.study.comparison_words import alone_words, others_words, rows, tempo_words
from bridge.study.mark_words import marks_words
from bridge.study.marks import Beat
from bridge.study.settings import StudySettings
from bridge.web.clips import clip, quiet_gain
from bridge.web.sheets import CompareSheet, Figure, Player, SharedThird, compare_page
from bridge.web.third_map import Played, Scale, third_map
from bridge.wiring.playings import Playing

#: More thirds than this make no page that anybody reads, or that a mail takes.
_MOST_THIRDS = 24
#: Where more of the thirds than this are not in the student's playing, it is hardly meant to be the same.
_MOST_UNHEARD = 0.5
#: Straight thirds this much apart are worth a word, cents.
_OTHER_STRAIGHT_CENTS = 4.0


@dataclass(frozen=True, slots=True)
class Compared:
    """What came of it: the page (HTML), and what is said of it in the terminal."""

    page: str
    thirds: int
    advice: str
    notices: tuple[str, ...]


def require_thirds(playing: Playing, path: Path) -> list[MarkedNote]:
    """The notes of a playing that are notes at all. Raises UserError where there are none, or none is a third."""
    notes = long_enough(playing.notes)
    if not notes:
        raise UserError(f"{path}: no note was heard in it. Check which microphone was recorded, and its level.")
    if not any(is_third(note.marks, playing.zone) for note in notes):
        raise UserError(
            f"{path}: none of its {len(notes)} notes is a third on {with_article(playing.held.name)}. Check --harp and "
            "--position; --harp auto finds both."
        )
    return notes


def compared(
    teacher: Playing,
    student: Playing,
    paths: tuple[Path, Path],
    settings: StudySettings,
    beats: tuple[Beat, Beat] | None,
    cautions: tuple[str, ...],
) -> Compared:
    """The page of both; ``beats`` are those of each where they are known, ``paths`` what both came from.

    Raises UserError where one of them has no notes or no thirds.
    """
    mine, theirs = require_thirds(teacher, paths[0]), require_thirds(student, paths[1])
    told = None if beats is None else told_time(*beats)
    found = compare(mine, theirs, teacher.zone, student.zone, settings, told)
    notices = _notices(teacher, student, found)
    pictures = _Pictures(teacher, student, found.time, None if beats is None else beats[0])
    thirds = found.thirds[:_MOST_THIRDS]
    sheet = CompareSheet(
        Player(teacher.name, teacher.held.name),
        Player(student.name, student.held.name),
        notices,
        found.advice.sentence,
        tuple(pictures.third(third, number, len(thirds)) for number, third in enumerate(thirds, start=1)),
        others_words(found.others),
    )
    page = compare_page(sheet, cautions)
    return Compared(page, len(thirds), found.advice.sentence, notices)


def _notices(teacher: Playing, student: Playing, found: Comparison) -> tuple[str, ...]:
    """What has to be known about the whole."""
    said = []
    unheard = sum(third.student is None for third in found.thirds)
    if unheard > _MOST_UNHEARD * len(found.thirds):
        said.append(
            f"{unheard} of the teacher's {len(found.thirds)} thirds were not heard from the student: perhaps it is not "
            "the same piece, or not all of it."
        )
    if teacher.held.harp.key != student.held.harp.key or teacher.held.harp.position != student.held.harp.position:
        said.append("They play on different harps; pitches are told from each one's own root, so they compare.")
    if abs(teacher.zone.straight - student.zone.straight) > _OTHER_STRAIGHT_CENTS:
        said.append(
            f"A straight third lies {teacher.zone.straight:.0f} cents above the root on the teacher's harp, "
            f"{student.zone.straight:.0f} on the student's."
        )
    said.append(tempo_words(found.time, found.thirds))
    if len(found.thirds) > _MOST_THIRDS:
        said.append(f"Only the first {_MOST_THIRDS} of {len(found.thirds)} thirds are shown; the advice is of all.")
    return tuple(said)


class _Pictures:
    """Makes the pictures and the sound of each third."""

    def __init__(self, teacher: Playing, student: Playing, time: CommonTime | None, beat: Beat | None) -> None:
        self._teacher = teacher
        self._student = student
        self._time = time
        self._beat = beat
        self._gains = quiet_gain(teacher.samples), quiet_gain(student.samples)

    def third(self, third: ComparedThird, number: int, count: int) -> SharedThird:
        """One third of the teacher's, and the student's beside it, on maps of one scale."""
        one = Played(third.teacher.frames, third.teacher.marks)
        other = None if third.student is None else self._aligned(third.student, third)
        scale = Scale((self._teacher.zone, self._student.zone), [one] if other is None else [one, other])
        beats = self._beats(third.teacher.marks.start_s, scale)
        title = f"Third {number} of {count}" if count > 1 else "The third"
        map_of = partial(self._figure, title=title, scale=scale, beats=beats)
        mine = map_of(f"t{number}", "Teacher", self._teacher, self._gains[0], one)
        if other is None or third.student is None:
            return SharedThird(title, mine, None, (), alone_words(third.teacher.marks, self._teacher.zone))
        theirs = map_of(f"s{number}", "Student", self._student, self._gains[1], other, one)
        said = rows(third, third.student.marks, self._teacher.zone, self._student.zone, self._time)
        return SharedThird(title, mine, theirs, tuple(said), "")

    def _aligned(self, student: MarkedNote, third: ComparedThird) -> Played:
        """The student's note in the teacher's time; begun together where no common time is known."""
        if self._time is None:
            return Played(student.frames, student.marks)
        since_s = self._time.back(student.marks.start_s) - third.teacher.marks.start_s
        return Played(student.frames, student.marks, since_s, self._time.scale)

    def _beats(self, start_s: float, scale: Scale) -> list[float] | None:
        """The teacher's beats about a note, seconds from its start."""
        if self._beat is None:
            return None
        first = round((start_s + scale.from_s - self._beat.first_s) / self._beat.period_s) - 1
        count = round((scale.to_s - scale.from_s) / self._beat.period_s) + 3
        return [self._beat.at(first + number) - start_s for number in range(count)]

    @staticmethod
    def _figure(
        name: str,
        caption: str,
        playing: Playing,
        gain: float,
        played: Played,
        model: Played | None = None,
        *,
        title: str,
        scale: Scale,
        beats: list[float] | None,
    ) -> Figure:
        marks = played.marks
        sound = clip(playing.samples, playing.rate, marks.start_s, marks.start_s + marks.length_s, gain)
        return Figure(
            name,
            caption,
            f"{title}, {caption.lower()}",
            f"Map of the third. {caption}: {marks_words(marks, playing.zone)}.",
            third_map(playing.zone, scale, played, model, beats),
            sound,
            scale.x(played.since_s - sound.note_s / played.scale),
            scale.per_second / played.scale,
        )
