"""The rounds of an exercise in front of the microphone: counted in, heard, and told."""

from __future__ import annotations

from collections.abc import Callable

import typer

from bridge.base.clock import SystemClock
from bridge.base.commands import Stop
from bridge.base.printable import printable
from bridge.capture.loudspeaker import Loudspeaker
from bridge.capture.microphone import Microphone
from bridge.capture.played_along import Excerpt, PlayedAlong
from bridge.capture.source import Source
from bridge.cli.cautions import ADVICE, BREATH, HOWL
from bridge.cli.drill_words import opening_lines
from bridge.cli.keys import Keys
from bridge.study.clicks import count_in
from bridge.study.exercises import COUNT_IN, Exercise
from bridge.wiring.checking import measure_loudspeaker
from bridge.wiring.drilling import LEAD_S, Attempt, hear_round, judge, round_beat, round_s
from bridge.wiring.meter_process import key_terminal
from bridge.wiring.settings import Settings


def play_rounds(
    settings: Settings,
    exercise: Exercise,
    tempo: float,
    rounds: int,
    output: str | None,
    before_cents: float | None,
    done: Callable[[Attempt], None],
) -> None:
    """Count in, listen and tell ``done``, ``rounds`` times or until q is pressed.

    ``tempo`` is beats a minute, ``output`` the loudspeaker, None to be silent; ``before_cents`` how far off the time
    before was. Raises UserError when a device is not there or stops.
    """
    for line in (*opening_lines(exercise, tempo), HOWL, BREATH, ADVICE):
        typer.echo(line)
    beat_s = 60.0 / tempo
    length_s = round_s(exercise, beat_s)
    with Keys(key_terminal()) as keys:
        rounds_left = _Rounds(settings, exercise, beat_s, rounds, before_cents, keys, done)
        if output is None:
            with Microphone(settings.capture) as microphone:
                typer.echo(f"Sound input: {printable(microphone.name)}.")
                typer.echo("Silent: the beat is on the screen alone, so how you lie against it is rough.")
                rounds_left.play(lambda: Excerpt(microphone, length_s), 0.0)
            return
        with Loudspeaker(settings.capture, output) as loudspeaker:
            delay_s = _measured_delay_s(loudspeaker)
            sound = count_in(COUNT_IN, beat_s, length_s, loudspeaker.rate, LEAD_S)
            rounds_left.play(lambda: PlayedAlong(loudspeaker, sound), delay_s)


class _Rounds:
    """Plays one round after the other, until there are enough or the player has."""

    def __init__(
        self,
        settings: Settings,
        exercise: Exercise,
        beat_s: float,
        rounds: int,
        before_cents: float | None,
        keys: Keys,
        done: Callable[[Attempt], None],
    ) -> None:
        self._settings = settings
        self._exercise = exercise
        self._beat_s = beat_s
        self._rounds = rounds
        self._before_cents = before_cents
        self._keys = keys
        self._done = done
        self._ended = False

    def play(self, source: Callable[[], Source], delay_s: float) -> None:
        """All rounds; ``source`` gives the sound of the next one, and ``delay_s`` is how late it comes back."""
        beat = round_beat(self._beat_s, delay_s)
        for number in range(1, self._rounds + 1):
            typer.echo(f"{number} of {self._rounds}:", nl=False)
            counting = _Counting(self._beat_s, self._exercise.beats)
            with source() as heard:
                notes = hear_round(self._settings, heard, SystemClock(), counting.now, self._stopped)
            typer.echo()
            if self._stopped():
                break
            attempt = judge(self._settings, self._exercise, notes, beat, self._before_cents)
            if any(note is not None for note in attempt.notes):
                self._before_cents = attempt.advice.off_cents
            self._done(attempt)

    def _stopped(self) -> bool:
        """Whether the player has asked to end it."""
        self._ended = self._ended or any(isinstance(command, Stop) for command in self._keys.commands())
        return self._ended


class _Counting:
    """Shows each beat of a round when it comes: the count-in, a bar, and the beats of the exercise."""

    def __init__(self, beat_s: float, beats: float) -> None:
        self._beat_s = beat_s
        self._last = COUNT_IN + round(beats)
        self._shown = 0

    def now(self, time_s: float) -> None:
        """The sound has come as far as ``time_s`` seconds."""
        while self._shown < self._last and time_s >= LEAD_S + self._shown * self._beat_s:
            bar = " |" * (self._shown == COUNT_IN)
            typer.echo(f"{bar} {self._shown % COUNT_IN + 1}", nl=False)
            self._shown += 1


def _measured_delay_s(loudspeaker: Loudspeaker) -> float:
    """How late what is played comes back, as measured with short chirps; else as the sound system says."""
    typer.echo(f"Sound output: {printable(loudspeaker.name)}. A few short quiet chirps measure how late it comes back.")
    measured = measure_loudspeaker(loudspeaker)
    if measured is None:
        delay_s = loudspeaker.latency_s
        typer.echo(f"Nothing surely came back, as with headphones: {1000.0 * delay_s:.0f} ms, as the system says.")
    else:
        delay_s = measured[0].delay_s
        typer.echo(f"It comes back {1000.0 * delay_s:.0f} ms late; that is taken off what is said of your beat.")
    return delay_s
