"""Octaves in a recording: the lower pitch from the beginning on."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import PitchFrame
from bridge.quantise.octaves import OctavesAhead

_HOP_S = 64 / 48000
_LOWER_HZ = 220.0


def _frames(*parts: tuple[float, float], attack_at: int = -1) -> list[PitchFrame]:
    """Frames of (Hz, seconds) one after another; the first frame of part ``attack_at`` is a stroke."""
    hz, struck = [], []
    for index, (pitch, length_s) in enumerate(parts):
        count = round(length_s / _HOP_S)
        hz += [pitch] * count
        struck += [index == attack_at] + [False] * (count - 1)
    return [
        PitchFrame(i * _HOP_S, i * _HOP_S + 0.003, pitch, -20.0, 0.9, 1.0, 0.5, attack)
        for i, (pitch, attack) in enumerate(zip(hz, struck, strict=True))
    ]


def _heard(frames: list[PitchFrame]) -> list[PitchFrame]:
    ahead = OctavesAhead()
    return [given for frame in frames for given in ahead.step(frame)] + ahead.finish()


@pytest.mark.parametrize("before", [0.0, 165.0])
@pytest.mark.parametrize("lost_s", [0.0, 0.008])
def test_the_upper_reed_belongs_to_the_lower_note(before: float, lost_s: float) -> None:
    """An upper reed heard for 25 ms, after a rest or another note, has the lower pitch, and nothing else is changed."""
    parts = [(before, 0.1), (1.98 * _LOWER_HZ, 0.025), (0.0, lost_s), (_LOWER_HZ, 0.3)]
    frames = _frames(*[part for part in parts if part[1]])
    heard = _heard(frames)
    expected = [0.99 * _LOWER_HZ if frame.hz == 1.98 * _LOWER_HZ else frame.hz for frame in frames]
    assert [frame.hz for frame in heard] == pytest.approx(expected)
    assert [frame.ready_s for frame in heard] == [frame.ready_s for frame in frames]


@pytest.mark.parametrize(
    "frames",
    [
        _frames((0.0, 0.1), (2.0 * _LOWER_HZ, 0.1), (_LOWER_HZ, 0.3)),
        _frames((0.0, 0.1), (2.0 * _LOWER_HZ, 0.025), (0.0, 0.03), (_LOWER_HZ, 0.3)),
        _frames((0.0, 0.1), (2.0 * _LOWER_HZ, 0.025), (_LOWER_HZ, 0.3), attack_at=2),
        _frames((0.0, 0.1), (2.0 * _LOWER_HZ, 0.025), (_LOWER_HZ, 0.01), (2.0 * _LOWER_HZ, 0.3)),
        _frames((0.0, 0.1), (1.5 * _LOWER_HZ, 0.025), (_LOWER_HZ, 0.3)),
    ],
    ids=["held", "rest between", "tongued", "a slip of the follower", "a fifth"],
)
def test_two_notes_stay_two(frames: list[PitchFrame]) -> None:
    """A leap of an octave that was played, a slip downwards and another interval come out as they went in."""
    assert _heard(frames) == frames


@given(
    st.lists(
        st.tuples(st.sampled_from([0.0, 110.0, 220.0, 440.0, 330.0]), st.integers(1, 90), st.booleans()), max_size=20
    )
)
def test_frames_come_out_once_in_order_and_only_lower(parts: list[tuple[float, int, bool]]) -> None:
    """Whatever comes, every frame comes out once in its place, as it was or an octave lower."""
    frames: list[PitchFrame] = []
    for hz, count, struck in parts:
        start = len(frames)
        frames += [
            PitchFrame(i * _HOP_S, i * _HOP_S, hz, -20.0, 0.9, 1.0, 0.5, struck and i == start)
            for i in range(start, start + count)
        ]
    heard = _heard(frames)
    assert [frame.ready_s for frame in heard] == [frame.ready_s for frame in frames]
    assert all(after.ready_s > before.ready_s for before, after in pairwise(heard))
    ratios = np.array([was.hz / now.hz for was, now in zip(frames, heard, strict=True) if now.hz])
    assert set(np.round(ratios, 6)) <= {1.0, 2.0}
    assert [frame.hz > 0.0 for frame in heard] == [frame.hz > 0.0 for frame in frames]
