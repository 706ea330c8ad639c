"""Tones: where one ends and the next begins, and what of it counts."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from bridge.base.events import PitchFrame
from bridge.study.tones import Tone, Tones

STEP_S = 0.004


def heard(hz: Callable[[float], float], length_s: float, attacks_s: tuple[float, ...] = ()) -> list[Tone]:
    """The tones of a stream with that pitch at each instant and fresh attacks at these."""
    tones, found = Tones(), []
    for number in range(round(length_s / STEP_S)):
        time_s = number * STEP_S
        attack = any(0.0 <= time_s - at < STEP_S for at in attacks_s)
        frame = PitchFrame(time_s, time_s, hz(time_s), -20.0, 1.0, 1.0, 0.5, attack)
        found.append(tones.step(frame))
    found.append(tones.finish())
    return [tone for tone in found if tone is not None]


def test_the_first_and_the_last_moments_do_not_count() -> None:
    """A reed that comes up to its pitch and lets go of it is as high as where it was held."""
    (tone,) = heard(lambda at: 425.0 if at < 0.2 or at > 1.92 else 440.0, 2.0, (0.0,))
    assert tone.hz == pytest.approx(440.0)
    assert tone.spread_cents == tone.slide_cents == 0.0
    assert tone.length_s == pytest.approx(2.0, abs=2 * STEP_S)


@pytest.mark.parametrize(("gap_s", "count"), [(0.03, 1), (0.2, 2)])
def test_a_short_gap_parts_nothing(gap_s: float, count: int) -> None:
    """A few frames without pitch are bridged, a rest is not."""
    tones = heard(lambda at: 0.0 if 1.0 <= at < 1.0 + gap_s else 440.0, 2.2)
    assert len(tones) == count


def test_a_fresh_attack_begins_another_tone() -> None:
    """Without any silence between."""
    assert [tone.start_s for tone in heard(lambda _: 440.0, 2.0, (1.0,))] == pytest.approx([0.0, 1.0], abs=STEP_S)


def test_another_pitch_is_another_tone_but_a_slip_of_the_follower_is_not() -> None:
    """A jump that stays, and one of 20 ms an octave up."""
    two = heard(lambda at: 440.0 if at < 1.0 else 494.0, 2.0)
    assert [tone.hz for tone in two] == pytest.approx([440.0, 494.0])
    (one,) = heard(lambda at: 880.0 if 1.0 <= at < 1.02 else 440.0, 2.0)
    assert one.hz == pytest.approx(440.0)


def test_a_glide_is_told_by_its_slide_and_vibrato_by_its_spread() -> None:
    """Forty cents in two seconds; a swing between 20 cents to either side."""
    (glide,) = heard(lambda at: 440.0 * 2.0 ** (-20.0 * at / 1200.0), 2.0)
    assert -40.0 < glide.slide_cents < -15.0
    (swing,) = heard(lambda at: 440.0 * 2.0 ** (20.0 * (-1.0) ** int(at / 0.02) / 1200.0), 2.0)
    assert swing.spread_cents == pytest.approx(20.0, abs=1.0)


def test_clicks_are_no_tones_and_drones_end_when_they_end() -> None:
    """A blip of 50 ms is nothing; a minute of one pitch is one tone of a minute."""
    assert heard(lambda at: 440.0 if at < 0.05 else 0.0, 1.0) == []
    (drone,) = heard(lambda _: 440.0, 60.0)
    assert drone.length_s == pytest.approx(60.0, abs=2 * STEP_S)
