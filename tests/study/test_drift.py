"""The zero of a recording that drifts, and of one that does not; the A4 of a harp whose key is known."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from bridge.harp.harp import make_harp
from bridge.harp.keys import KEYS
from bridge.study.explaining import harp_chances
from bridge.study.held import Held
from bridge.study.near_zero import with_near_zero
from bridge.study.zero import find_drift, find_zero
from sounds.phrases import make_phrase
from study.heard import exactly, exactly_tab

#: Riffs that fill about a minute.
_MINUTE = 30
#: Draw 2 of a C harp, the root in cross position (OEIS A291810; MIDI 1.0, 4.2.1).
ROOT_HZ = 440.0 * 2.0 ** ((67 - 69) / 12)


def cents_of(hz: float, beside: float = 440.0) -> float:
    """How far a frequency lies above another."""
    return 1200.0 * math.log2(hz / beside)


def played_at(held: list[Held], cents: Callable[[float], float]) -> list[Held]:
    """The same pitches from a tape that is so many cents sharp at each second."""
    return [replace(note, hz=note.hz * 2.0 ** (cents(note.start_s) / 1200.0)) for note in held]


@pytest.mark.parametrize("position", [1, 2, 3])
@pytest.mark.parametrize("seed", range(4))
def test_a_tape_that_goes_sharper_is_followed(seed: int, position: int) -> None:
    """Twenty cents in a minute: found, and everywhere within 6 cents and three of what it says it may be off."""
    held = exactly(make_phrase(seed, "A", position, riffs=_MINUTE).score)
    drift = find_drift(played_at(held, lambda at_s: at_s / 3.0 - 10.0), make_harp("A", position, 440.0))
    assert drift is not None
    assert drift.cents == pytest.approx(held[-1].start_s / 3.0, abs=8.0)
    off = [cents_of(a4_hz) - (at_s / 3.0 - 10.0) for at_s, a4_hz in drift.a4]
    assert max(map(abs, off)) < min(6.0, 3.0 * drift.spread_cents)
    assert drift.spread_cents < 6.0
    assert drift.roots


@pytest.mark.parametrize("wide", [-120.0, 80.0, 100.0, 120.0])
@pytest.mark.parametrize(("seed", "position"), [(0, 1), (1, 2), (2, 2), (0, 2), (0, 3)])
def test_a_wide_drift_is_followed_to_both_ends(seed: int, position: int, wide: float) -> None:
    """So many cents in two minutes, further than a straight reed is looked for: right within 6 cents from end to end.

    What is given reaches from the first note to the last, whether or not they are roots.
    """
    held = exactly(make_phrase(seed, "A", position, riffs=2 * _MINUTE).score)
    end_s = held[-1].start_s + held[-1].length_s
    tape = played_at(held, lambda at_s: wide * (at_s / end_s - 0.5))
    drift = find_drift(tape, with_near_zero(tape, make_harp("A", position, 440.0)))
    assert drift is not None
    assert (drift.a4[0][0], drift.a4[-1][0]) == pytest.approx((held[0].start_s, end_s))
    off = [cents_of(a4_hz) - wide * (at_s / end_s - 0.5) for at_s, a4_hz in drift.a4]
    assert max(map(abs, off)) < min(6.0, 3.0 * drift.spread_cents)


@pytest.mark.parametrize("wide", [80.0, 120.0])
def test_a_tape_that_drifts_unevenly_is_followed(wide: float) -> None:
    """Slow at both ends, fast in the middle, so that the phrase as a whole lies near one end: within 10 cents."""
    for seed in range(3):
        held = exactly(make_phrase(seed, "A", 2, riffs=2 * _MINUTE).score)
        end_s = held[-1].start_s

        def cents(at_s: float, end_s: float = end_s) -> float:
            return -0.5 * wide * math.cos(math.pi * at_s / end_s)

        tape = played_at(held, cents)
        drift = find_drift(tape, with_near_zero(tape, make_harp("A", 2, 440.0)))
        assert drift is not None
        off = [cents_of(a4_hz) - cents(at_s) for at_s, a4_hz in drift.a4]
        assert max(map(abs, off)) < min(10.0, 3.0 * drift.spread_cents)


def _roots_then_fifths(rests_s: float, last_s: float) -> list[Held]:
    """Roots that go 1 cent a second sharper for half a minute, a rest, then fifths that go on so to the end."""
    roots = [Held(ROOT_HZ * 2.0 ** (at_s / 1200.0), 0.5, 2.0, at_s) for at_s in np.arange(0.0, 31.0, 2.0).tolist()]
    fifths = np.arange(30.0 + rests_s, last_s, 2.0).tolist()
    return roots + [Held(ROOT_HZ * 2.0 ** ((700.0 + at_s) / 1200.0), 0.5, 2.0, at_s) for at_s in fifths]


def test_far_from_every_root_the_zero_is_uncertain() -> None:
    """A minute and more after the last root next to nothing is known; some seconds after it the line goes on."""
    harp = make_harp("C", 2, 440.0)
    near, far = (find_drift(_roots_then_fifths(0.0, last_s), harp) for last_s in (36.0, 110.0))
    assert near is not None
    assert far is not None
    assert near.spread_cents < 8.0
    assert cents_of(near.a4[-1][1]) == pytest.approx(near.a4[-1][0], abs=3.0)
    assert far.spread_cents > 30.0
    assert cents_of(far.a4[-1][1]) == pytest.approx(40.0, abs=5.0)


@pytest.mark.parametrize("off", [-28.0, 28.0])
def test_roots_that_the_other_reeds_contradict_are_not_believed_in_a_drift(off: float) -> None:
    """Draw 2 always so far off on a tape that drifts: the curve is that of the other straight notes."""
    intervals = [off, 500.0, 700.0, 1400.0] * 30
    held = [
        Held(ROOT_HZ * 2.0 ** ((cents + 0.5 * i) / 1200.0), 0.5, 2.0, float(i)) for i, cents in enumerate(intervals)
    ]
    drift = find_drift(held, make_harp("C", 2, 440.0))
    assert drift is not None
    assert drift.roots_off_cents == pytest.approx(off, abs=2.0)
    assert not drift.roots
    assert drift.notes == 90
    assert drift.spread_cents == pytest.approx(14.0, abs=1.0)
    for at_s, a4_hz in drift.a4:
        assert cents_of(a4_hz) == pytest.approx(0.5 * at_s, abs=3.0)


@pytest.mark.parametrize("position", [1, 2, 3])
@pytest.mark.parametrize("seed", range(4))
def test_a_tape_that_runs_evenly_does_not_drift(seed: int, position: int) -> None:
    """Notes that lie off their places by chance are no drift, whatever the pitch of the whole."""
    held = exactly(make_phrase(seed, "A", position, riffs=_MINUTE).score)
    assert find_drift(played_at(held, lambda _: 12.0), make_harp("A", position, 440.0)) is None


@pytest.mark.parametrize("seed", range(5))
def test_roots_that_scatter_are_no_drift(seed: int) -> None:
    """One in ten seconds, each off by some 12 cents to either side: what is near tells no more than the whole."""
    off = np.random.default_rng(seed).normal(0.0, 12.0, 12)
    held = [Held(ROOT_HZ * 2.0 ** (cents / 1200.0), 0.5, 2.0, 10.0 * place) for place, cents in enumerate(off.tolist())]
    assert find_drift(held, make_harp("C", 2, 440.0)) is None


def test_few_roots_tell_no_drift() -> None:
    """Five roots that rise by 40 cents may be five roots that were played so."""
    held = [Held(ROOT_HZ * 2.0 ** (8.0 * place / 1200.0), 0.5, 2.0, 3.0 * place) for place in range(5)]
    assert find_drift(held, make_harp("C", 2, 440.0)) is None


@pytest.mark.parametrize("a4_hz", [428.0, 436.0, 443.0, 446.0, 452.0])
@pytest.mark.parametrize("position", [1, 2, 3])
def test_a_known_harp_is_tuned_from_one_phrase(position: int, a4_hz: float) -> None:
    """Up to 48 cents off, further than a straight reed is looked for, A4 comes out within 4 cents, bends or not."""
    for seed in range(3):
        held = exactly(make_phrase(seed, "Bb", position, riffs=4, a4_hz=a4_hz).score)
        harp = make_harp("Bb", position, 440.0)
        zero = find_zero(held, with_near_zero(held, harp))
        assert zero is not None
        assert cents_of(zero.a4_hz, a4_hz) == pytest.approx(0.0, abs=4.0)


def test_the_look_is_around_the_harps_own_a4() -> None:
    """A harp at 466 Hz, half a step up, whose A4 is set to 460 is found as well as one near 440."""
    held = exactly(make_phrase(2, "C", 2, riffs=4, a4_hz=466.0).score)
    near = with_near_zero(held, make_harp("C", 2, 460.0))
    assert cents_of(near.a4_hz, 466.0) == pytest.approx(0.0, abs=6.0)
    assert with_near_zero([], near) is near


def test_a_phrase_that_only_rests_need_not_have_ended_on_its_root() -> None:
    """Cut short on draw 4, it speaks less for the harp whose root that is than it would if it ended there."""
    held = exactly_tab("2d 4d 3d 2d 5d 4d", "C")
    model = make_harp("C", 1, 440.0)
    c_harp = [key.name for key in KEYS].index("C")
    cross, third = 1, 2
    ended, resting = (harp_chances(held, model, goes_on=goes_on).sum(axis=1) for goes_on in (False, True))
    assert resting[c_harp, third] / resting[c_harp, cross] < ended[c_harp, third] / ended[c_harp, cross]
    assert np.sum(resting) == pytest.approx(1.0)
