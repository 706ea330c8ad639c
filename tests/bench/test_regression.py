"""The follower is no worse than when its figures were recorded, and the test would notice if it were."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from bench.cases import Case
from bench.peers import Row, ours, plain_frames
from bench.recording import CONDITIONS, SOUNDS, Recorded, measured, worse, worse_in_all
from bridge.base.events import PitchFrame
from bridge.follow.settings import FollowSettings


@cache
def recorded() -> Recorded:
    """The figures on record."""
    found: Recorded = json.loads((Path(__file__).parent / "recorded.json").read_text(encoding="utf-8"))
    return found


def grown(row: Row, sounds: Sequence[str]) -> set[str]:
    """The names of the figures that have grown on these sounds when they are clean."""
    return {line.split(":")[0] for line in worse(measured(row, ["clean"], sounds), recorded())}


@cache
def now(condition: str) -> Recorded:
    """The figures of the follower as it is, in one condition."""
    return measured(None, [condition])


@pytest.mark.parametrize("condition", CONDITIONS)
def test_nothing_has_grown(condition: str) -> None:
    """On no recorded sound has a lag, an error, what is left out or a count of wrong notes grown."""
    assert worse(now(condition), recorded()) == []


def test_wrong_notes_have_not_grown_in_all() -> None:
    """One more here and there is not made up by none being many: all sounds together have at most three more."""
    everything = {sound: figures for condition in CONDITIONS for sound, figures in now(condition).items()}
    assert worse_in_all(everything, recorded()) == []


def test_a_wider_window_is_noticed() -> None:
    """A window of 3.2 periods and 8 ms, planted, is told by its lag in every range."""
    slow = ours(FollowSettings(window_periods=3.2, window_ms=8.0))
    assert {"lag <390", "lag 390-1000", "lag >1000"} <= grown(slow, SOUNDS[:3])


def test_a_follower_that_leaves_more_out_is_noticed() -> None:
    """One that asks for a likeness of 0.97 before a note begins is told by what it leaves unvoiced."""
    assert "unvoiced" in grown(ours(FollowSettings(confidence=0.97)), ["rehearsal, D"])


def test_a_slip_of_an_octave_is_noticed() -> None:
    """A single fiftieth of a second an octave too high is told as a gross and an octave error."""

    def slipping(case: Case) -> list[PitchFrame]:
        frames = plain_frames(case)
        sounding = [index for index, frame in enumerate(frames) if frame.hz > 0.0]
        middle = sounding[len(sounding) // 2]
        slipped = {index for index in sounding if middle <= index < middle + 15}
        return [replace(frame, hz=2.0 * frame.hz) if index in slipped else frame for index, frame in enumerate(frames)]

    assert {"gross", "octave"} <= grown(Row("slipping", slipping), ["rehearsal, D"])


def test_two_notes_too_many_are_noticed() -> None:
    """A stroke, dip and attack, in the middle of each of the two longest notes makes notes nobody played."""

    def doubling(case: Case) -> list[PitchFrame]:
        frames = plain_frames(case)
        longest = sorted(case.sound.notes, key=lambda note: note.end_s - note.attack_s)[-2:]
        middles = [(note.attack_s + note.end_s) / 2.0 for note in longest]
        struck = set(np.searchsorted([frame.ready_s for frame in frames], middles).tolist())
        dips = {index - hops for index in struck for hops in range(1, 4)}
        return [
            replace(frame, attack=True)
            if index in struck
            else replace(frame, level_db=frame.level_db - 6.0)
            if index in dips
            else frame
            for index, frame in enumerate(frames)
        ]

    assert "wrong notes" in grown(Row("doubling", doubling), ["rehearsal, D"])


def test_every_sound_is_on_record() -> None:
    """The record holds each sound in each condition, so that none is left out of the comparison."""
    assert set(recorded()) == {f"{condition}, {sound}" for sound in SOUNDS for condition in CONDITIONS}
