"""When a note begins, and in which slot: a reed that waits, speaks flat, or is out of tune."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bridge.base.events import Inflection, NoteOn
from quantise.playing import DELAY_S, RATE, ROOT_MIDI, frame, frames, only, quantiser, run


def test_a_note_waits_for_a_settled_pitch_but_tells_when_it_began() -> None:
    """The note keeps the time of its attack though it is decided some frames later."""
    silent_attack = frame(0.1, None, attack=True)
    played = [silent_attack, *(frame(0.108 + index / RATE, 0.0) for index in range(60))]
    (on,) = only(NoteOn, run(quantiser(), played))
    assert on.time_s == pytest.approx(0.1)
    assert on.ready_s == pytest.approx(0.108 + 2 / RATE + DELAY_S)


def test_an_attack_without_a_pitch_soon_after_is_forgotten() -> None:
    """A knock long before the reed speaks is not its attack."""
    played = [frame(0.1, None, attack=True), *frames(lambda _: 0.0, 0.1, start_s=0.5, attack=False)]
    (on,) = only(NoteOn, run(quantiser(), played))
    assert on.time_s == pytest.approx(0.5)


# How reeds begin to speak, measured on the sampled harmonica of a General MIDI sound font: (seconds, cents off) and
# (seconds, dBFS). The first rises from far below, the second stays low for long.
SPEAKING = {
    "far below, rising fast": (
        ((0.0, -146), (0.004, -136), (0.008, -92), (0.012, -64), (0.020, -40), (0.030, -26), (0.050, -8), (0.070, 0)),
        ((0.0, -38), (0.010, -29), (0.020, -25), (0.050, -21.5)),
    ),
    "low for long": (
        ((0.0, -64), (0.017, -61), (0.025, -51), (0.035, -37), (0.050, -26), (0.080, 0)),
        ((0.0, -29), (0.010, -25.5), (0.020, -23.3), (0.050, -20.6)),
    ),
}


@pytest.mark.parametrize(("course", "patience_ms"), [("far below, rising fast", 16.0), ("low for long", 20.0)])
@pytest.mark.parametrize("cents", [0.0, 500.0, 700.0, 1700.0])
def test_a_reed_that_speaks_flat_begins_in_the_slot_it_is_heading_for(
    course: str, patience_ms: float, cents: float
) -> None:
    """A reed that comes up to its pitch while it grows is one note, of the degree it comes up to, and bent as heard."""
    off, level = (np.array(points) for points in SPEAKING[course])
    played = [
        replace(item, level_db=float(np.interp(item.time_s, level[:, 0], level[:, 1])))
        for item in frames(lambda at: cents + float(np.interp(at, off[:, 0], off[:, 1])), 0.3)
    ]
    events = run(quantiser({"onset": {"patience_ms": patience_ms}}), played)
    (on,) = only(NoteOn, events)
    assert on.midi_note == ROOT_MIDI + round(cents / 100.0)
    assert on.inflection.bend_cents < -20.0
    assert {inflection.degree for inflection in only(Inflection, events)} == {on.degree}
    assert on.ready_s < 0.035


@pytest.mark.parametrize("off", [-49.0, -20.0, 0.0, 24.0, 45.0])
def test_a_steady_reed_keeps_its_slot_however_far_out_of_tune(off: float) -> None:
    """A pitch that stands still begins in the slot that holds it, at once unless it is near a border."""
    (on,) = only(NoteOn, run(quantiser(), frames(lambda _: 700.0 + off, 0.2)))
    assert on.midi_note == ROOT_MIDI + 7
    assert on.inflection.bend_cents == pytest.approx(off)
    assert (on.ready_s - DELAY_S < 0.010) == (abs(off) < 35.0)


@pytest.mark.parametrize("settle_ms", [0.0, 3.0, 12.0])
def test_a_note_on_its_pitch_begins_once_it_was_watched(settle_ms: float) -> None:
    """A reed that speaks in tune is a note as soon as it has been heard for the time that is set."""
    watchful = quantiser({"onset": {"settle_ms": settle_ms, "quick_ms": 100.0}})
    (on,) = only(NoteOn, run(watchful, frames(lambda _: 0.0, 0.1)))
    assert on.ready_s - DELAY_S == pytest.approx(settle_ms / 1000.0, abs=1.0 / RATE)
