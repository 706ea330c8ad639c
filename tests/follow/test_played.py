"""What is seen of a player: levels, clipping, compass and delay, on sounds made for it."""

from __future__ import annotations

import numpy as np
import pytest

from bridge.base.events import Inflection, NoteOn
from bridge.follow.making import window_delay_s
from bridge.follow.played import Played, PlayedMeter
from bridge.follow.settings import FollowSettings
from bridge.follow.suppression import Suppression
from follow.checked_sounds import FLOOR_HZ, ROOM, in_room, notes, see
from follow.tones import RATE

#: MIDI notes of 392, 523.25 and 784 Hz (MIDI 1.0: 69 is 440 Hz).
G4, C5, G5 = 67, 72, 79


def played(**other: object) -> Played:
    """A player about whom there is nothing to say, but for the ``other`` things."""
    usual: dict[str, object] = dict(
        zip(("seconds", "soft_db", "usual_db", "hard_db", "peak_db"), (5.0, -30.0, -20.0, -12.0, -6.0), strict=True)
    )
    usual |= {"clipped": 0, "suppression": Suppression(), "notes": (), "lowest": 60, "highest": 72}
    return Played(**{**usual, "begun": 9, "begins_s": 0.012, **other})  # type: ignore[arg-type]


def test_soft_and_hard_are_the_levels_that_were_made() -> None:
    """One note at -35, one at -20 and one at -8 dBFS: within 1 dB, since the filters take little of a harp."""
    sound = np.concatenate([notes((523.25,), level_db=level) for level in (-35.0, -20.0, -8.0)])
    seen = see(in_room(sound))
    assert (seen.soft_db, seen.usual_db, seen.hard_db) == pytest.approx((-35.0, -20.0, -8.0), abs=1.0)
    assert seen.peak_db == pytest.approx(20.0 * np.log10(np.max(np.abs(in_room(sound)))), abs=0.1)
    assert seen.heard
    # Three notes of 0.8 s, and their tails.
    assert seen.seconds == pytest.approx(2.7, abs=0.3)


@pytest.mark.parametrize(("peak", "clipped"), [(0.97, False), (3.0, True)])
def test_only_what_is_cut_at_full_scale_is_overloaded(peak: float, clipped: bool) -> None:
    """The same sound under full scale and three times over it; then no peak is only near."""
    sound = notes()
    seen = see(np.clip(sound * peak / np.max(np.abs(sound)), -1.0, 1.0))
    assert (seen.clipped > 0) is clipped
    assert seen.near_full_scale is not clipped


def test_the_compass_and_the_delay_are_those_that_were_played() -> None:
    """Lowest and middle note by number; half of what the settings let the follower look at, within 0.5 ms."""
    seen = see(in_room(notes()))
    assert (seen.lowest, seen.highest) == (G4, G5)
    assert [note.midi for note in seen.notes] == [G4, C5]
    for note, hz in zip(seen.notes, (392.0, 523.25), strict=True):
        assert note.delay_s == pytest.approx(window_delay_s(FollowSettings(), RATE, hz), abs=0.0005)


def test_the_delay_of_aubio_is_half_its_window() -> None:
    """A thousand and twenty-four samples at 48 kHz (aubio's documentation: a window of samples is one estimate)."""
    assert window_delay_s(FollowSettings(follower="aubio"), RATE, 440.0) == pytest.approx(512 / RATE)


def test_beginnings_of_notes_are_timed_from_their_attack() -> None:
    """The middle one of three."""
    meter = PlayedMeter(RATE, FLOOR_HZ, ROOM)
    for late_s in (0.010, 0.030, 0.012):
        meter.know(NoteOn(1, 1.0, 1.0 + late_s, 60, 0.5, Inflection(1, 1.0, 1.0, 0.0, "1", 0.0, 0.0, 0.5, 0.5)))
    seen = meter.played()
    assert seen.begun == 3
    assert seen.begins_s == pytest.approx(0.012)


def test_nothing_heard_is_no_playing() -> None:
    """Neither of silence nor of the room's noise is there a level or a note."""
    for sound in (np.zeros(RATE), in_room(np.zeros(RATE))):
        seen = see(sound)
        assert not seen.heard
        assert seen.notes == ()
    assert see(np.zeros(0)).peak_db == -120.0


@pytest.mark.parametrize(
    ("open_db", "soft_db", "usual_db", "short_db"),
    [
        (-60.0, -30.0, -20.0, 0.0),
        (-60.0, -50.0, -20.0, 0.0),
        (-60.0, -57.0, -40.0, 3.0),  # soft notes must reach -54
        (-60.0, -45.0, -42.0, 3.0),  # nothing soft was played: it would be at -57
        (-31.0, -27.0, -18.0, 2.0),
    ],
)
def test_what_is_too_soft_follows_from_the_gate(
    open_db: float, soft_db: float, usual_db: float, short_db: float
) -> None:
    """Six decibels above where it opens, or soft notes are lost (common practice, no source)."""
    assert played(soft_db=soft_db, usual_db=usual_db).short_db(open_db) == pytest.approx(short_db)
