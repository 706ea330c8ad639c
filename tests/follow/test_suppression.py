"""Signs of a noise suppression: seen where one was made, and not where none was.

What suppressors do is made here after their common description (a gate, a downward expander, a steady sound taken for
noise), from memory; no product was looked at.
"""

from __future__ import annotations

import numpy as np
import pytest

from bridge.follow.room_noise import LearnedRoom
from bridge.follow.suppression import Suppression
from follow.checked_sounds import NOISE_DB, PAUSE_S, Sound, in_room, noise, notes, see
from follow.tones import RATE
from sounds.dirt import room_response
from sounds.rehearsed import rehearsed

NONE = Suppression()


def playing(sound: Sound) -> Sound:
    """1 where notes sound, 0 where they have died away by 50 dB; looked at over 20 ms."""
    window = round(0.02 * RATE)
    level = np.convolve(sound**2, np.ones(window) / window, mode="same")
    return np.asarray(level > 1e-5 * float(level.max()), np.float64)


def with_hole(sound: Sound, seconds: float) -> Sound:
    """The sound with so much of it lost in the middle of the first note."""
    holed = sound.copy()
    holed[round((PAUSE_S + 0.3) * RATE) :][: round(seconds * RATE)] = 0.0
    return holed


def quantised(sound: Sound, bits: int) -> Sound:
    """As a converter of so many bits gives it."""
    steps = 2.0 ** (bits - 1)
    return np.asarray(np.round(sound * steps) / steps)


def test_a_gate_leaves_no_sound_between_notes() -> None:
    """Every pause is seen."""
    clean = notes()
    seen = see(in_room(clean) * playing(clean)).suppression
    assert seen.dead_pauses == 3
    assert seen.at_work


@pytest.mark.parametrize("by_db", [15.0, 25.0])
def test_an_expander_hushes_the_room_after_notes(by_db: float) -> None:
    """By as much as was made, within 2 dB."""
    clean = notes()
    gain = np.where(playing(clean) > 0.0, 1.0, 10.0 ** (-by_db / 20.0))
    # At first it has learned nothing yet.
    gain[: round(PAUSE_S * RATE)] = 1.0
    seen = see(in_room(clean) * gain).suppression
    assert seen.fallen_db == pytest.approx(by_db, abs=2.0)
    assert seen.dead_pauses == 0


def test_held_notes_that_all_fade_are_taken_for_noise() -> None:
    """By 14 dB in two seconds, at every pitch."""
    seen = see(in_room(notes(seconds=2.0, fall_db=(14.0,)))).suppression
    assert seen == Suppression(fading=3)


def test_a_dead_room_before_a_harp_is_a_sign() -> None:
    """Not so where nobody plays either: that microphone is dead."""
    dead = LearnedRoom(5.0, -120.0, -120.0, 0.0, 0.0)
    clean = notes()
    assert see(in_room(clean) * playing(clean), dead).suppression.dead_room
    assert not see(np.zeros(RATE), dead).suppression.at_work


RINGING = np.convolve(notes(), room_response(RATE).astype(np.float64))[: len(notes())]


@pytest.mark.parametrize(
    "sound",
    [
        in_room(notes()),
        in_room(RINGING),
        in_room(notes(decay_s=0.002)),
        in_room(notes((440.0,) * 12, seconds=0.08, decay_s=0.004)),
        in_room(notes(level_db=-40.0)),
        with_hole(in_room(notes()), 2048 / RATE),
        in_room(notes(seconds=2.0, fall_db=(14.0, 0.0))),
        in_room(notes((440.0,), seconds=3.0, fall_db=(20.0,))),
        in_room(notes(seconds=2.0, fall_db=(5.0,))),
        quantised(notes() + noise(len(notes()), -92.0), 16),
        in_room(rehearsed("C", 1).samples[: 12 * RATE].astype(np.float64)),
        noise(3 * RATE),
        np.zeros(RATE),
    ],
    ids=[
        *(
            "plain",
            "ringing room",
            "stopped short",
            "tongued",
            "soft",
            "lost block",
            "one of two fades",
            "a single fade",
            "a little",
        ),
        *("16 bits", "rehearsal", "nobody plays", "nothing"),
    ],
)
def test_playing_and_rooms_alone_show_no_sign(sound: Sound) -> None:
    """However the notes end, and whatever the room does."""
    quiet = float(np.sqrt(np.mean(sound[: RATE // 4] ** 2))) < 10.0 ** ((NOISE_DB - 15.0) / 20.0)
    room = LearnedRoom(5.0, -96.0, -94.0, 0.0, 0.0) if quiet else LearnedRoom(5.0, -66.0, -64.0, 0.0, 0.0)
    assert see(sound, room).suppression == NONE
