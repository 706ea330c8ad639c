"""One reed or two, told from sums of synthetic reeds whose pitches are known exactly, whatever the follower had."""

from __future__ import annotations

import numpy as np
import pytest

from bridge.capture.player import PlayedNote, perform
from bridge.capture.reed_tone import breath_noise
from bridge.follow.partials import lines
from bridge.follow.two_reeds import Reeds, TwoReeds
from sounds.known import Floats

RATE, HOP = 48000, 64
FLOOR_HZ, CEILING_HZ = 164.0, 3300.0
MAJOR_THIRD, FOURTH = 2.0 ** (4 / 12), 2.0 ** (5 / 12)


def reed(hz: float, *, level_db: float = -20.0, vibrato_cents: float = 0.0, length_s: float = 0.6) -> Floats:
    """A reed that begins at 0, settled after 30 ms."""
    note = PlayedNote(0.0, length_s, hz, vibrato_hz=6.0, vibrato_cents=vibrato_cents, level_db=level_db)
    return np.asarray(perform([note], RATE, 3).samples[: round(length_s * RATE)], dtype=np.float64)


def together(*parts: Floats) -> Floats:
    """Their sum, as long as the shortest."""
    length = min(len(part) for part in parts)
    return np.asarray(np.sum([part[:length] for part in parts], axis=0))


def watch(samples: Floats, track_hz: Floats | float, watcher: TwoReeds | None = None) -> list[Reeds]:
    """What is seen hop by hop where the follower has ``track_hz``, one for every hop or one for all."""
    watcher = watcher or TwoReeds(RATE, HOP, FLOOR_HZ, CEILING_HZ)
    padded = np.concatenate([np.zeros(watcher.keep), samples])
    hops = len(samples) // HOP
    track = np.broadcast_to(np.asarray(track_hz, dtype=np.float64), (hops,))
    return [watcher.step(padded, watcher.keep + (index + 1) * HOP, hz, 0.9) for index, hz in enumerate(track.tolist())]


def settled(seen: list[Reeds]) -> Reeds:
    """What is seen a third of a second after the beginning."""
    return seen[RATE // 3 // HOP]


@pytest.mark.parametrize("hz", [174.6, 392.0, 880.0, 2093.0])
@pytest.mark.parametrize("vibrato_cents", [0.0, 50.0])
def test_one_reed_is_clean_and_stays_one(hz: float, vibrato_cents: float) -> None:
    """A reed from low F to C7, still or with 50 cents of vibrato at 6 Hz, is clean throughout and has no second."""
    samples = reed(hz, vibrato_cents=vibrato_cents)
    grown = np.minimum(1.0, np.arange(len(samples) // HOP) * HOP / RATE / 0.15)
    turn = 2.0 * np.pi * 6.0 * np.arange(len(grown)) * HOP / RATE
    track = hz * 2.0 ** (vibrato_cents * grown * np.sin(turn) / 1200.0)
    seen = watch(samples, track if vibrato_cents else hz)[30:-30]
    assert min(item.clean for item in seen) > 0.5
    assert {item.reeds for item in seen} == {1}


@pytest.mark.parametrize("ratio", [2.0 ** (2 / 12), 2.0 ** (3 / 12), MAJOR_THIRD, FOURTH])
@pytest.mark.parametrize("level_db", [-20.0, -30.0])
@pytest.mark.parametrize("lower_hz", [196.0, 440.0, 1046.5])
def test_two_reeds_are_seen_whichever_is_followed(lower_hz: float, ratio: float, level_db: float) -> None:
    """Reeds a tone to a fourth apart, the upper as loud or 10 dB softer, are two, and both are named to 25 cents."""
    samples = together(reed(lower_hz), reed(lower_hz * ratio, level_db=level_db))
    for followed in (lower_hz, lower_hz * ratio) if level_db == -20.0 else (lower_hz,):
        seen = settled(watch(samples, followed))
        assert seen.clean < 0.5
        low, high = sorted((seen.hz, seen.second_hz))
        assert abs(1200.0 * np.log2(low / lower_hz)) < 25.0
        assert abs(1200.0 * np.log2(high / (lower_hz * ratio))) < 25.0
        assert seen.hz == followed


@pytest.mark.parametrize(("lower", "upper"), [(2, 3), (3, 4), (4, 5), (5, 6)])
def test_period_that_two_reeds_have_in_common_is_neither(lower: int, upper: int) -> None:
    """Where the follower has the common period of two reeds in just intervals, the lower of them is given instead."""
    common = 261.6
    samples = together(reed(common * lower), reed(common * upper))
    seen = settled(watch(samples, common))
    assert seen.clean < 0.5
    assert abs(1200.0 * np.log2(min(seen.hz, seen.second_hz) / (common * lower))) < 25.0


def test_two_reeds_are_found_where_the_follower_has_no_pitch() -> None:
    """With no pitch at all from the follower, two equally loud reeds are named and noise is not."""
    seen = settled(watch(together(reed(440.0), reed(440.0 * MAJOR_THIRD)), 0.0))
    assert sorted(round(hz / 10) for hz in (seen.hz, seen.second_hz)) == [44, 55]
    noise = 0.1 * breath_noise(RATE // 2, RATE, np.random.default_rng(5))
    assert {item.reeds for item in watch(noise, 0.0)} == {1}


def test_octave_is_one_note() -> None:
    """Two reeds an octave and 6 cents apart are one note, clean."""
    seen = watch(together(reed(392.0), reed(784.0 * 2.0 ** (6 / 1200))), 392.0)[40:-30]
    assert min(item.clean for item in seen) > 0.5
    assert {item.reeds for item in seen} == {1}


def test_three_reeds_are_three() -> None:
    """The three notes of a major chord, equally loud, are counted as three."""
    chord = together(*(reed(523.3 * ratio) for ratio in (1.0, MAJOR_THIRD, 2.0 ** (7 / 12))))
    assert settled(watch(chord, 523.3)).reeds == 3


def test_two_notes_in_turn_are_never_two_at_once() -> None:
    """Sixteen changes a second between two holes, each note ringing on for 20 ms, are one reed at a time."""
    pitches, change_s = (440.0, 440.0 * FOURTH), 1.0 / 16.0
    samples = np.zeros(RATE)
    track = np.zeros(RATE // HOP)
    for turn in range(14):
        begin, hz = round(turn * change_s * RATE), pitches[turn % 2]
        note = reed(hz, length_s=change_s + 0.02)
        samples[begin : begin + len(note)] += note
        track[begin // HOP + 12 : (begin + round(change_s * RATE)) // HOP + 8] = hz
    assert {item.reeds for item in watch(samples, track)} == {1}


def test_second_reed_that_joins_a_note_is_seen_and_its_end_too() -> None:
    """A second reed that comes in over a held one is marked within 0.3 s, and no more 0.2 s after it has gone."""
    held = reed(392.0, length_s=1.6)
    joining = np.zeros(len(held))
    other = reed(392.0 * MAJOR_THIRD, length_s=0.7)
    joining[RATE // 2 : RATE // 2 + len(other)] = other
    seen = watch(held + joining, 392.0)
    assert seen[int(0.45 * RATE) // HOP].reeds == 1
    assert seen[int(0.9 * RATE) // HOP].reeds == 2
    assert seen[int(1.42 * RATE) // HOP].reeds == 1


@pytest.mark.parametrize(("followed", "given"), [(392.0, 392.0), (0.0, 0.0), (98.0, 0.0)])
def test_reeds_that_hide_each_other_are_unclean_at_once_and_named_soon(followed: float, given: float) -> None:
    """Where a reed joins and the follower then has neither's pitch, clean falls in 80 ms and both are named in 130 ms.

    The pitch of a period in common is nobody's; where the follower has one of the two they may be notes in turn.
    """
    held = reed(392.0, length_s=1.0)
    joining = np.zeros(len(held))
    joining[RATE // 2 :] = reed(392.0 * MAJOR_THIRD, length_s=0.5)
    track = np.where(np.arange(len(held) // HOP) * HOP < 0.52 * RATE, 392.0, followed)
    seen = watch(held + joining, track)
    soon, later = seen[round(0.58 * RATE) // HOP], seen[round(0.64 * RATE) // HOP]
    assert soon.reeds == 1
    assert soon.hz == given
    assert (soon.clean < 0.5) is (followed != 392.0)
    assert (later.reeds == 2) is (followed != 392.0)


@pytest.mark.parametrize("silence", [True, False])
def test_after_silence_a_note_of_before_does_not_ring_on(silence: bool) -> None:
    """Two reeds of which one sounded just before are seen within 80 ms after silence, and not after a mere attack."""
    watcher = TwoReeds(RATE, HOP, FLOOR_HZ, CEILING_HZ)
    watch(reed(392.0 * MAJOR_THIRD, length_s=0.3), 392.0 * MAJOR_THIRD, watcher)
    if silence:
        watcher.rest()
    else:
        watcher.release()
    seen = watch(together(reed(392.0), reed(392.0 * MAJOR_THIRD)), 392.0, watcher)
    assert (seen[round(0.08 * RATE) // HOP].reeds == 2) is silence


def sung(hz: Floats, partials: int) -> Floats:
    """Two sawtooth tones a major third apart along the pitch ``hz`` of the lower at each sample, cut off above."""
    phase = 2.0 * np.pi * np.cumsum(hz) / RATE
    parts = (np.sin(part * ratio * phase) / part for part in range(1, partials + 1) for ratio in (1.0, MAJOR_THIRD))
    return np.asarray(sum(parts), dtype=np.float64)


@pytest.mark.parametrize("followed", [0.0, 392.0])
def test_two_that_stand_still_and_reach_up_are_reeds(followed: float) -> None:
    """Two still reeds are surely reeds, whether or not the follower has a pitch."""
    assert settled(watch(together(reed(392.0), reed(392.0 * MAJOR_THIRD)), followed)).reed >= 0.9


@pytest.mark.parametrize(("octaves_per_s", "partials"), [(0.0, 3), (2.0, 20)])
def test_two_tones_of_a_voice_are_not_surely_reeds(octaves_per_s: float, partials: int) -> None:
    """Two tones that glide two octaves a second, or that end at 1.5 kHz, are two, and less likely reeds than not."""
    hz = 392.0 * 2.0 ** (octaves_per_s * np.arange(0.5 * RATE) / RATE)
    several = [item for item in watch(sung(hz, partials), hz[HOP - 1 :: HOP]) if item.reeds > 1]
    assert several
    assert all(0.0 < item.reed < 0.5 for item in several)


def test_one_reed_shows_by_itself() -> None:
    """A single reed has no likeness to several reeds."""
    assert {item.reed for item in watch(reed(392.0), 392.0)} == {0.0}


def test_until_the_first_look_the_likeness_counts() -> None:
    """In the first hops clean is what the caller takes for likely."""
    assert watch(reed(440.0), 440.0)[0] == Reeds(440.0, 0.9)


def test_partials_of_a_gliding_reed_are_lines() -> None:
    """Along its own phase a gliding reed has a tenth of the power off its lines that it has in plain time."""
    hops = 32
    hz = 440.0 * 2.0 ** (np.linspace(0.0, 100.0, hops * HOP) / 1200.0)
    phase = 2.0 * np.pi * np.cumsum(hz) / RATE
    samples = np.asarray(sum(np.sin(number * phase) / number for number in range(1, 9)), dtype=np.float64)
    track = hz.reshape(hops, HOP).mean(axis=1)
    along = lines(samples, track, 0, RATE)
    across = lines(samples, np.full(hops, hz.mean()), 0, RATE)
    assert along is not None
    assert across is not None
    assert along.foreign.sum() < 0.1 * across.foreign.sum()


def test_too_few_periods_say_nothing() -> None:
    """Of three periods there are no lines."""
    assert lines(np.ones(640), np.full(10, 220.0), 0, RATE) is None
