"""The frame filter that keeps talk out, on frames whose evidence is known."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from bridge.base.events import PitchFrame
from bridge.base.units import SILENCE_DB
from bridge.quantise.talk import TalkAhead, TalkFilter, TalkLive, TalkSettings

_HOP_S = 64 / 48000
_REED, _VOICE, _MIDDLING = 0.995, 0.001, 0.2


def _frames(*parts: tuple[float, float, float]) -> list[PitchFrame]:
    """Frames of (seconds, Hz, reed); 0 Hz is silence, below 0 a noise without a pitch."""
    made: list[PitchFrame] = []
    for seconds, hz, reed in parts:
        for index in range(round(seconds / _HOP_S)):
            at = len(made) * _HOP_S
            level = SILENCE_DB if hz == 0.0 else -20.0
            made.append(PitchFrame(at, at, max(hz, 0.0), level, 1.0, 1.0, 0.5, index == 0 and hz > 0.0, reed))
    return made


def _seconds(frames: list[PitchFrame]) -> float:
    return sum(frame.hz > 0.0 for frame in frames) * _HOP_S


def _live(frames: list[PitchFrame]) -> list[PitchFrame]:
    talk = TalkFilter(TalkSettings())
    return [talk.step(frame) for frame in frames]


def _waited(frames: list[PitchFrame]) -> list[PitchFrame]:
    talk = TalkLive(TalkSettings())
    return [settled for frame in frames for settled in talk.step(frame)] + talk.finish()


def _ahead(frames: list[PitchFrame], settings: TalkSettings | None = None) -> list[PitchFrame]:
    talk = TalkAhead(settings or TalkSettings())
    return [settled for frame in frames for settled in talk.step(frame)] + talk.finish()


def test_a_sure_reed_begins_after_silence_within_three_milliseconds() -> None:
    """The first note of all loses next to nothing."""
    assert _seconds(_live(_frames((0.2, 440.0, _REED)))) > 0.197


def test_a_voice_has_no_pitch() -> None:
    """Frames that are surely no reed stay silent however long they last."""
    assert _seconds(_live(_frames((5.0, 220.0, _VOICE)))) == 0.0


def test_a_reed_after_talk_must_prove_itself() -> None:
    """Right after talk even a sure reed waits some tens of milliseconds, and then sounds."""
    heard = _seconds(_live(_frames((2.0, 220.0, _VOICE), (0.3, 440.0, _REED))))
    assert 0.2 < heard < 0.28


def test_a_dull_beginning_is_trusted_among_notes_only() -> None:
    """A beginning that could be anything is a note within a phrase, and none after talk."""
    dull = (0.1, 440.0, _MIDDLING)
    assert _seconds(_live(_frames((0.5, 440.0, _REED), (0.05, 0.0, 1.0), dull))) > 0.59
    assert _seconds(_live(_frames((0.5, 220.0, _VOICE), (0.05, 0.0, 1.0), dull))) == 0.0


def test_a_phrase_is_forgotten_within_seconds() -> None:
    """What a rest within a phrase leaves trusted is not trusted after three seconds, when somebody may talk again."""
    played, doubtful = (0.5, 440.0, _REED), (0.1, 220.0, 0.06)
    assert _seconds(_live(_frames(played, (0.3, 0.0, 1.0), doubtful))) > 0.59
    assert _seconds(_live(_frames(played, (3.0, 0.0, 1.0), doubtful))) < 0.51


def test_the_proof_of_a_reed_is_not_lost_to_the_quantiser() -> None:
    """Playing, the frames in which a reed proved itself have their pitch as soon as it has, 20 ms of them at most."""
    frames = _frames((2.0, 220.0, _VOICE), (0.3, 440.0, _REED))
    more = _seconds(_waited(frames)) - _seconds(_live(frames))
    assert 0.015 < more < 0.022


def test_nothing_is_told_earlier_than_it_was_known() -> None:
    """Frames that waited say when they were settled, and none waits for longer than 20 ms."""
    talk = TalkLive(TalkSettings())
    for frame in _frames((2.0, 220.0, _VOICE), (0.3, 440.0, _REED), (0.1, 0.0, 1.0)):
        for settled in talk.step(frame):
            assert settled.ready_s == frame.ready_s
            assert settled.ready_s - settled.time_s < 0.022


def test_an_attack_does_not_wait() -> None:
    """A fresh attack, which ends the note before, is handed on in its own instant."""
    talk = TalkLive(TalkSettings())
    for frame in _frames((2.0, 220.0, _VOICE), (0.02, 440.0, _REED), (0.02, 440.0, _REED)):
        given = talk.step(frame)
        assert any(settled.attack for settled in given) == frame.attack


def test_talk_is_forgotten_in_silence() -> None:
    """Half a minute after the last word a note begins as fast as the first of all."""
    frames = _frames((2.0, 220.0, _VOICE), (30.0, 0.0, 1.0), (0.2, 440.0, _REED))
    assert _seconds(_live(frames)) > 0.195


def test_a_note_that_turns_out_to_be_talk_ends() -> None:
    """What began by mistake is silent again soon after it shows its nature."""
    assert _seconds(_live(_frames((0.02, 220.0, _REED), (1.0, 220.0, _VOICE)))) < 0.12


def test_closed_hands_end_no_proven_note() -> None:
    """A tenth of a second without a reed's bright spectrum does not interrupt a note that had it."""
    frames = _frames((0.5, 440.0, _REED), (0.1, 440.0, _VOICE), (0.3, 440.0, _REED))
    kept = _live([frames[0], *(replace(frame, attack=False) for frame in frames[1:])])
    assert _seconds(kept) > 0.895


def test_attacks_are_handed_on() -> None:
    """The quantiser hears of every attack, so that a note admitted late can still be dated."""
    frames = _frames((0.2, 220.0, _VOICE), (0.2, 440.0, _REED))
    assert [frame.attack for frame in _live(frames)] == [frame.attack for frame in frames]


def test_in_a_recording_no_beginning_is_lost() -> None:
    """Looking ahead, a reed after talk has its pitch from its first frame, and talk still has none."""
    frames = _frames((2.0, 220.0, _VOICE), (0.3, 440.0, _REED))
    assert [frame.hz for frame in _ahead(frames)] == [0.0 if frame.hz == 220.0 else frame.hz for frame in frames]


def test_spans_left_out_are_told() -> None:
    """What was left out is listed with its times and kind; notes and their neighbourhood are not."""
    talk = TalkFilter(TalkSettings())
    parts = (0.5, 0.0, 1.0), (1.0, 220.0, _VOICE), (0.5, 0.0, 1.0), (1.0, 440.0, _REED), (0.1, -1.0, 0.0)
    for frame in _frames(*parts, (0.5, 0.0, 1.0), (0.2, -1.0, 0.0), (0.5, 0.0, 1.0)):
        talk.step(frame)
    voice, noise = talk.left_out
    assert (voice.what, noise.what) == ("voice", "noise")
    assert (voice.start_s, voice.end_s) == pytest.approx((0.5, 1.5), abs=0.01)
    assert (noise.start_s, noise.end_s) == pytest.approx((3.6, 3.8), abs=0.01)


_ANY = st.builds(
    PitchFrame,
    time_s=st.just(0.0),
    ready_s=st.just(0.0),
    hz=st.sampled_from([0.0, 100.0, 440.0, 3000.0, float("nan"), float("inf")]),
    level_db=st.sampled_from([SILENCE_DB, -40.0, -10.0]),
    confidence=st.just(1.0),
    clean=st.just(1.0),
    bright=st.just(0.0),
    attack=st.booleans(),
    reed=st.floats(0.0, 1.0),
)


@given(frames=st.lists(_ANY, max_size=200), gap_s=st.sampled_from([_HOP_S, 0.05, 2.0]))
def test_every_frame_comes_once_and_loses_nothing_but_its_pitch(frames: list[PitchFrame], gap_s: float) -> None:
    """Whatever comes, all frames come out in order, each as it was or without its pitch, however they wait."""
    timed = [replace(frame, time_s=i * gap_s, ready_s=i * gap_s) for i, frame in enumerate(frames)]
    for given_back in (_ahead(timed), _waited(timed)):
        assert len(given_back) == len(timed)
        for before, after in zip(timed, given_back, strict=True):
            assert after.hz == 0.0 or repr(after.hz) == repr(before.hz)
            assert after.ready_s >= before.ready_s
            assert replace(after, hz=0.0, ready_s=before.ready_s) == replace(before, hz=0.0)


def test_settings_out_of_bounds_are_refused() -> None:
    """A memory of no length cannot be set, nor a setting that does not exist."""
    with pytest.raises(ValidationError):
        TalkSettings(talk_memory_s=0.0)
    with pytest.raises(ValidationError):
        TalkSettings.model_validate({"unknown": 1})


def test_talk_right_after_playing_is_found_out_at_once() -> None:
    """A voice that is taken for the next note of a phrase loses that trust within a few hundredths of a second."""
    played, voice = (0.5, 440.0, _REED), (1.0, 220.0, _VOICE)
    said = _frames(played, (0.1, 0.0, 1.0), voice, (0.05, 0.0, 1.0), (0.1, 233.0, _MIDDLING))
    assert _seconds(_live(said)) < 0.55


def test_a_recording_trusts_nothing_that_has_not_proved_itself() -> None:
    """At leisure a dull sound between notes is no note, and a reed that proves itself later has its whole length."""
    settings = TalkSettings().unhurried()
    dull = _frames((0.5, 440.0, _REED), (0.05, 0.0, 1.0), (0.1, 440.0, _MIDDLING))
    slow = _frames((0.5, 440.0, _REED), (0.05, 0.0, 1.0), (0.05, 440.0, _MIDDLING), (0.3, 440.0, _REED))
    slow = [replace(frame, attack=frame.attack and frame.time_s < 0.6) for frame in slow]
    assert _seconds(_ahead(dull, settings)) < 0.51
    assert _seconds(_ahead(slow, settings)) > 0.84
