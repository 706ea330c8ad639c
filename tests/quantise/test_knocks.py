"""Slaps and key clicks that strike while a reed sounds: they hide its pitch and stop nothing."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bridge.base.events import NoteOff, NoteOn, PitchFrame
from quantise.playing import RATE, ROOT_HZ, frame, frames, only, quantiser, run

THIRD = 400.0
SLAP_S, HIDDEN_S = 0.2, 0.06
NOTE_DB = -20.0


def slapped(
    after: float | None = THIRD, *, hidden_s: float = HIDDEN_S, louder_db: float = 10.0, attack: bool = True
) -> list[PitchFrame]:
    """A third whose pitch a slap hides; from then on the pitch is ``after``. The slap fades within ``hidden_s``."""
    played = frames(lambda _: THIRD, SLAP_S)
    for index in range(round(hidden_s * RATE)):
        fades = 1.0 - index / (hidden_s * RATE)
        level = NOTE_DB + louder_db * fades
        played.append(frame(SLAP_S + index / RATE, None, level_db=level, attack=attack and index == 3))
    return played + frames(lambda _: after, 0.3, start_s=SLAP_S + round(hidden_s * RATE) / RATE, attack=False)


@pytest.mark.parametrize("attack", [False, True])
@pytest.mark.parametrize("louder_db", [0.0, 10.0, 20.0])
def test_a_slap_over_a_held_note_breaks_nothing(louder_db: float, *, attack: bool) -> None:
    """A reed that goes on after a slap of up to 60 ms is one note, whether or not the slap counts as an attack."""
    assert len(only(NoteOn, run(quantiser(), slapped(louder_db=louder_db, attack=attack)))) == 1


def test_the_level_of_a_slap_is_not_that_of_the_note() -> None:
    """A slap 20 dB louder than its note does not make a tail of what sounds after it."""
    played = slapped(hidden_s=0.12, louder_db=20.0, attack=False)
    ons = only(NoteOn, run(quantiser(), played))
    assert len(ons) == 2
    assert ons[1].time_s == pytest.approx(SLAP_S + 0.12, abs=2.0 / RATE)


def test_no_noise_holds_a_note_for_long() -> None:
    """Where no pitch comes back the note is ended within 80 ms, at the instant its pitch was lost."""
    off = only(NoteOff, run(quantiser(), slapped(hidden_s=1.0)))[0]
    assert off.time_s == pytest.approx(SLAP_S, abs=1.5 / RATE)
    assert off.ready_s - off.time_s < 0.09


@pytest.mark.parametrize(("hidden_s", "level_db", "notes"), [(0.2, 0.0, 1), (0.3, 0.0, 2), (0.2, -5.0, 2)])
def test_reeds_that_join_a_note_are_waited_for(hidden_s: float, level_db: float, notes: int) -> None:
    """A note hidden by more than one reed goes on for 0.25 s, unless its level has fallen."""
    played = slapped(hidden_s=hidden_s, louder_db=level_db, attack=False)
    joined = [replace(item, clean=0.1) if item.hz == 0.0 else item for item in played]
    assert len(only(NoteOn, run(quantiser(), joined))) == notes


def test_the_lower_reed_of_an_octave_is_heard_under_a_note_that_has_just_begun() -> None:
    """Half the pitch, found 20 ms after a note began and lost its pitch for 4 ms, is a note within 25 ms more."""
    upper = frames(lambda _: THIRD + 1200.0, 0.02)
    lost = [frame(0.02 + index / RATE, None) for index in range(3)]
    lower = frames(lambda _: THIRD, 0.3, start_s=0.02 + 3 / RATE, attack=False)
    first, second = only(NoteOn, run(quantiser(), [*upper, *lost, *lower]))
    assert first.midi_note - second.midi_note == 12
    assert second.ready_s - lost[-1].ready_s < 0.025


def test_a_level_that_falls_a_little_ends_what_is_hidden() -> None:
    """5 dB under the note's own level is no slap: without a pitch the note is over in 30 ms."""
    off = only(NoteOff, run(quantiser(), slapped(hidden_s=1.0, louder_db=-5.0)))[0]
    assert off.ready_s - off.time_s < 0.035


@pytest.mark.parametrize(("after", "degree"), [(700.0, "5"), (300.0, "3"), (1600.0, "3"), (0.0, "1")])
def test_another_reed_from_under_a_slap_is_another_note(after: float, degree: str) -> None:
    """The hidden note ends where its pitch was lost, and the new one begins in its own slot."""
    events = run(quantiser(bend_range_cents=4800.0), slapped(after))
    first, second = only(NoteOn, events)
    assert (first.degree, second.degree) == ("3", degree)
    assert only(NoteOff, events)[0].time_s == pytest.approx(SLAP_S, abs=1.5 / RATE)
    assert second.time_s == pytest.approx(SLAP_S + HIDDEN_S, abs=2.0 / RATE)


@pytest.mark.parametrize("times", [2, 3])
def test_two_or_three_periods_after_a_slap_are_the_same_reed(times: int) -> None:
    """A pitch of half or a third of the note's for 20 ms after a slap is no note; for good it is one."""
    played = slapped(hidden_s=0.032)
    back_s = SLAP_S + 0.031
    for stays_s, notes in ((0.02, 1), (1.0, 2)):
        low = [
            replace(item, hz=item.hz / times) if back_s <= item.time_s < back_s + stays_s else item for item in played
        ]
        assert len(only(NoteOn, run(quantiser(bend_range_cents=4800.0), low))) == notes


def test_the_attack_that_a_knock_came_before_is_no_second_one() -> None:
    """Struck 40 ms after a knock, a note is not broken by its own attack that is marked late."""
    played = [frame(index / RATE, None, level_db=-45.0, attack=index == 0) for index in range(30)]
    note = frames(lambda _: THIRD, 0.3, start_s=30 / RATE, attack=False)
    note[15] = replace(note[15], attack=True)
    quiet = [replace(item, level_db=-30.0) for item in note[:15]]
    assert len(only(NoteOn, run(quantiser(), [*played, *quiet, *note[15:]]))) == 1


def test_what_rang_before_a_note_is_not_taken_for_it() -> None:
    """While the level grows a pitch of several at once, from a long look, begins no note; the reed's own does."""
    speaking = []
    for index in range(30):
        item = frame(index / RATE, 750.0, level_db=-45.0 + 0.8 * index, attack=index == 0)
        speaking.append(replace(item, reeds=2, second_hz=ROOT_HZ * 2.0))
    played = speaking + frames(lambda _: THIRD, 0.3, start_s=30 / RATE, attack=False)
    (on,) = only(NoteOn, run(quantiser(), played))
    assert on.degree == "3"


def test_a_double_stop_that_stands_begins_a_note() -> None:
    """The same pitch at a level that stands is a note."""
    played = [replace(item, reeds=2, second_hz=ROOT_HZ * 2.0) for item in frames(lambda _: 700.0, 0.2)]
    assert len(only(NoteOn, run(quantiser(), played))) == 1


def test_a_pitch_that_comes_long_after_its_attack_has_been_waited_for() -> None:
    """A low reed that is heard 56 ms after its attack, still rising, begins sooner than one heard at once."""
    waited = {}
    for late in (0, 42):
        played = [frame(index / RATE, None, level_db=-25.0, attack=index == 0) for index in range(late)]
        played += frames(lambda at: 650.0 + 1000.0 * at, 0.04, start_s=late / RATE, attack=late == 0)
        (on,) = only(NoteOn, run(quantiser(), played))
        waited[late] = on.inflection.time_s - late / RATE
    assert waited[0] > 0.014
    assert waited[42] < 0.008


def test_a_beginning_that_a_slap_hides_is_gone_on_with() -> None:
    """A reed heard for 8 ms before a slap hid it begins when it is heard again, from its own attack, without a wait."""
    played = frames(lambda at: 640.0 + 1000.0 * at, 0.008)
    played += [frame(0.008 + index / RATE, None, level_db=NOTE_DB + 10.0) for index in range(45)]
    back_s = played[-1].time_s + 1.0 / RATE
    played += frames(lambda at: 660.0 + 1000.0 * at, 0.03, start_s=back_s, attack=False)
    (on,) = only(NoteOn, run(quantiser(), played))
    assert on.time_s == 0.0
    assert on.inflection.time_s - back_s < 0.002
