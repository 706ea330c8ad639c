"""``reedwire compare``: a student's playing beside a teacher's, as one page that can be mailed."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from bridge.base.errors import UserError
from bridge.cli.new_file import may_write
from bridge.cli.numbers import number
from bridge.cli.options import A4, AnyHarp, HarpFile, Position, Preset, Sets, Tune, settings_from
from bridge.cli.page_options import CAUTIONS, ENDINGS, Overwrite, heard, write_page
from bridge.study.marks import Beat
from bridge.wiring.comparing import compared

_OUT = Path("compared.html")
_BPM = "beats a minute"


def compare(
    teacher: Annotated[Path, typer.Argument(metavar="TEACHER", help="Recording, or folder of a take.")],
    student: Annotated[Path, typer.Argument(metavar="STUDENT", help="The same of the student.")],
    out: Annotated[Path, typer.Option("--out", metavar="FILE.html", help="The page that is written.")] = _OUT,
    overwrite: Overwrite = False,
    tempo: Annotated[
        float | None,
        typer.Option(
            "--tempo", metavar="BPM", parser=number("--tempo", 30.0, 300.0, _BPM), help="Beats a minute, of both."
        ),
    ] = None,
    first_beat: Annotated[
        float | None, typer.Option("--first-beat", metavar="S", min=0.0, help="Where a beat lies, in both recordings.")
    ] = None,
    student_tempo: Annotated[
        float | None,
        typer.Option(
            "--student-tempo",
            metavar="BPM",
            parser=number("--student-tempo", 30.0, 300.0, _BPM),
            help="The student's, if it is another.",
        ),
    ] = None,
    student_first_beat: Annotated[
        float | None,
        typer.Option("--student-first-beat", metavar="S", min=0.0, help="The same beat in the student's recording."),
    ] = None,
    harp: AnyHarp = None,
    student_harp: Annotated[
        str | None,
        typer.Option("--student-harp", metavar="KEY|auto", help="The student's harp, if it is in another key."),
    ] = None,
    student_a4: Annotated[
        str | None, typer.Option("--student-a4", metavar="HZ", help="Pitch of A4 on the student's harp, if another.")
    ] = None,
    harp_file: HarpFile = None,
    position: Position = None,
    a4: A4 = None,
    tune: Tune = None,
    preset: Preset = None,
    sets: Sets = None,
) -> None:
    """Put a student's playing beside a teacher's, on one page.

    Pictures, sound, differences in words, and one thing to try next. Any sound or video file of a phone will do, and
    takes, which know their own harp. The thirds of both are matched by their order; tempo, key and octave may differ.
    How a start lies against the beat is told from the other notes, or by --tempo and --first-beat. The page is one file
    that needs no network.
    """
    may_write(out, "--out", "the page", overwrite=overwrite, endings=ENDINGS)
    beats = _beats(tempo, first_beat, student_tempo, student_first_beat)
    settings = settings_from(
        preset, sets, any_harp=True, harp=harp, harp_file=harp_file, position=position, a4=a4, tune=tune
    )
    other = settings
    if student_harp is not None or student_a4 is not None:
        key = student_harp or (None if harp_file is not None else harp)
        other = settings_from(preset, sets, any_harp=True, harp=key, position=position, a4=student_a4 or a4, tune=tune)
    said = harp is not None or harp_file is not None
    one = heard(teacher, settings, said=said)
    two = heard(student, other, said=said or student_harp is not None)
    found = compared(one, two, (teacher, student), settings.study, beats, CAUTIONS)
    for line in (*found.notices, f"{found.thirds} third{'s' * (found.thirds != 1)} compared.", f"Next: {found.advice}"):
        typer.echo(line)
    write_page(out, found.page)


def _beats(
    tempo: float | None, first_beat: float | None, student_tempo: float | None, student_first_beat: float | None
) -> tuple[Beat, Beat] | None:
    """The beat of both, None where it is not told. Raises UserError where it is told by half."""
    if tempo is None or first_beat is None:
        if any(told is not None for told in (tempo, first_beat, student_tempo, student_first_beat)):
            raise UserError("The beat needs both --tempo and --first-beat; the student's come beside them.")
        return None
    other_s = first_beat if student_first_beat is None else student_first_beat
    return Beat(first_beat, 60.0 / tempo), Beat(other_s, 60.0 / (student_tempo or tempo))
