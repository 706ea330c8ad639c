"""The tempo that is asked for of a take that is there: said, estimated from its notes, or as the take has it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from bridge.base.errors import UserError
from bridge.cli.take_times import parse_time
from bridge.harp.settings import AUTO
from bridge.study.tempo_estimate import estimate_tempo
from bridge.takes.edited import Tempo
from bridge.takes.tempo import FASTEST, SLOWEST
from bridge.takes.tempo_choice import KnownTempo
from bridge.wiring.opening import OpenedTake


def asked_tempo(take: OpenedTake, wanted: str | None, bar_1: str | None, say: Callable[[str], None]) -> KnownTempo:
    """The tempo of ``--tempo``, else that of the take, with its bar 1 at ``--bar-1``, if that is given.

    ``say`` hears of what was not said by the user. Raises UserError where no tempo is known, and for what is none.
    """
    if wanted is not None:
        known = _said(take, wanted.strip().lower(), say)
    elif take.tempo is not None:
        known = KnownTempo(take.tempo, "option")
        if bar_1 is None:
            say(f"Tempo of the take: {_words(take.tempo)}.")
    else:
        raise UserError("No tempo is known of this take: give --tempo BPM, or --tempo auto to have it estimated.")
    if bar_1 is None:
        return known
    bar_1_s = parse_time(bar_1, "--bar-1")
    end_s = max((note.end_s for note in take.notes), default=0.0)
    if bar_1_s > end_s:
        raise UserError(f"--bar-1: found {bar_1_s:g} s, allowed: up to {end_s:.3f} s, where the last note ends.")
    return replace(known, tempo=replace(known.tempo, bar_1_s=bar_1_s))


def _said(take: OpenedTake, wanted: str, say: Callable[[str], None]) -> KnownTempo:
    """The tempo of ``--tempo``, its bar 1 where the take has it, else at the first note."""
    starts_s = [note.start_s for note in take.notes]
    if wanted == AUTO:
        found = estimate_tempo(starts_s)
        if found is None:
            raise UserError("No steady beat is heard in this take: give its tempo in quarters a minute, --tempo BPM.")
        tempo = Tempo(found.quarters_per_minute, found.first_beat_s)
        sure = f"{100.0 * found.sure:.0f} % sure of the pulse, not of the bar"
        say(f"Estimated: {tempo.quarters_per_minute:.1f} quarters a minute, a beat at {tempo.bar_1_s:.3f} s ({sure}).")
        return KnownTempo(tempo, "estimate", found.sure)
    try:
        quarters = float(wanted)
    except ValueError:
        quarters = 0.0
    if not SLOWEST <= quarters <= FASTEST:
        raise UserError(f"--tempo: found {wanted!r}, allowed: {SLOWEST:g} to {FASTEST:g} quarters a minute, or {AUTO}.")
    known = take.tempo or Tempo(quarters, starts_s[0] if starts_s else 0.0)
    return KnownTempo(replace(known, quarters_per_minute=quarters), "option")


def _words(tempo: Tempo) -> str:
    return f"{tempo.quarters_per_minute:.4g} quarters a minute, bar 1 at {tempo.bar_1_s:.3f} s"
