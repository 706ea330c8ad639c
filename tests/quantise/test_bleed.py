"""The synth's own sound neither holds a note nor begins one, and the player is heard through it."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import pytest

from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchFrame
from bridge.base.units import SILENCE_DB
from bridge.quantise.bleed import BleedGuard, BleedSettings, Pause
from quantise.playing import RATE, check, frame, only, quantiser

NOTE_DB, ECHO_DB = -20.0, -32.0
#: When a note has ended that fell at 0.4 s: it must have stayed down for a while, seconds.
STAY_S = BleedSettings().stay_ms / 1000.0
ENDED_S = round(0.4 + STAY_S, 2)
ON = BleedSettings(guard=True)


def sound(start_s: float, seconds: float, level_db: float, cents: float = 0.0, *, attack: bool) -> list[PitchFrame]:
    """A sound that comes up within 10 ms if it is struck, and is steady then."""
    made = []
    for index in range(round(seconds * RATE)):
        rising = max(0.0, 20.0 - 2.0 * 1000.0 * index / RATE) if attack else 0.0
        made.append(frame(start_s + index / RATE, cents, level_db=level_db - rising, attack=attack and index == 0))
    return made


def answer(start_s: float, seconds: float, cents: float = 0.0, *, fades_db_per_s: float = 60.0) -> list[PitchFrame]:
    """The synth, which has been told after a tenth of a second that the note has ended, and fades."""
    made = sound(start_s, seconds, ECHO_DB, cents, attack=False)
    fades = [max(0.0, item.time_s - start_s - 0.1) * fades_db_per_s for item in made]
    return [replace(item, level_db=item.level_db - less) for item, less in zip(made, fades, strict=True)]


def silence(start_s: float, seconds: float) -> list[PitchFrame]:
    """Nothing."""
    return [frame(start_s + index / RATE, None, level_db=-120.0) for index in range(round(seconds * RATE))]


def play(
    frames: Iterable[PitchFrame], settings: BleedSettings = ON, sent_cents: Callable[[float], float] = float
) -> list[Event]:
    """Guard and quantiser as the chain joins them."""
    guard, player = BleedGuard(settings, sent_cents), quantiser()
    events: list[Event] = []
    for item in frames:
        for event in player.step(guard.step(item)):
            guard.tell(event)
            events.append(event)
    events += player.finish(item.time_s, item.ready_s)
    check(events)
    return events


def spans(events: Sequence[Event]) -> list[tuple[float, float]]:
    """(begin, end) of the notes, to the hundredth of a second."""
    begun, ended = only(NoteOn, events), only(NoteOff, events)
    return [(round(on.time_s, 2), round(off.time_s, 2)) for on, off in zip(begun, ended, strict=True)]


def test_a_note_ends_with_the_player_though_the_synth_sounds_on() -> None:
    """What goes on 12 dB softer at the pitch that was sent holds nothing, and begins nothing."""
    events = play([*sound(0.1, 0.3, NOTE_DB, attack=True), *answer(0.4, 0.5)])
    assert spans(events) == [(0.1, ENDED_S)]


def test_a_reed_that_dies_away_over_its_answer_has_ended() -> None:
    """A fall of 6 dB that takes 20 ms, onto an answer 8 dB softer, ends the note."""
    dying = [
        replace(item, level_db=max(NOTE_DB - 8.0, NOTE_DB - 6.0 * max(0.0, item.time_s - 0.4) / 0.02))
        for item in sound(0.1, 0.4, NOTE_DB, attack=True)[8:]
    ]
    dying += [replace(item, level_db=item.level_db - ECHO_DB + NOTE_DB - 8.0) for item in answer(0.4, 0.4)[75:]]
    [(_, end)] = spans(play([*sound(0.1, 8 / RATE, NOTE_DB, attack=True), *dying]))
    assert end < 0.4 + 0.02 + STAY_S


def test_hands_that_flutter_end_nothing() -> None:
    """Ten dB deep, seven times a second (as hands do at most; common practice, no source), is one note."""
    fluttered = [
        replace(item, level_db=item.level_db - 5.0 + 5.0 * math.cos(2.0 * math.pi * 7.0 * item.time_s))
        for item in sound(0.1, 1.0, NOTE_DB, attack=True)
    ]
    assert spans(play(fluttered)) == [(0.1, 1.1)]


def test_player_and_answer_that_beat_end_nothing() -> None:
    """Two sounds 8 Hz apart and 3 dB apart, which dip by 15 dB for some 25 ms, are one note."""
    part = 10.0 ** (-3.0 / 20.0)
    beating = [
        replace(item, level_db=item.level_db + 20.0 * math.log10(abs(1.0 + part * cmath.exp(2j * math.pi * 8.0 * at))))
        for item in sound(0.1, 1.0, NOTE_DB, attack=True)
        if (at := item.time_s) > 0.0
    ]
    assert spans(play(beating)) == [(0.1, 1.1)]


def test_without_the_guard_the_synth_would_hold_the_note() -> None:
    """Switched off, the guard changes nothing: the note is held as long as its echo."""
    frames = [*sound(0.1, 0.3, NOTE_DB, attack=True), *sound(0.4, 0.5, ECHO_DB, attack=False)]
    assert spans(play(frames, BleedSettings(guard=False))) == [(0.1, 0.9)]


def test_a_repeat_out_of_the_echo_is_heard() -> None:
    """Struck again, even 5 dB softer, the note begins anew."""
    again = sound(0.45, 0.3, NOTE_DB - 5.0, attack=True)
    frames = [*sound(0.1, 0.3, NOTE_DB, attack=True), *sound(0.4, 0.05, ECHO_DB, attack=False)]
    frames += [replace(item, level_db=max(item.level_db, ECHO_DB)) for item in again]
    assert spans(play(frames)) == [(0.1, ENDED_S), (0.45, 0.75)]


def test_a_soft_stroke_out_of_the_answer_is_heard() -> None:
    """Struck again 9 dB softer, only 3 dB over the answer, the note begins anew: a synth does not strike by itself."""
    frames = [*sound(0.1, 0.3, NOTE_DB, attack=True), *sound(0.4, 0.05, ECHO_DB, attack=False)]
    again = sound(0.45, 0.3, NOTE_DB - 9.0, attack=True)
    frames += [replace(item, level_db=max(item.level_db, ECHO_DB)) for item in again]
    assert spans(play(frames)) == [(0.1, ENDED_S), (0.45, 0.75)]


def test_a_note_that_swells_out_of_the_answer_is_heard() -> None:
    """Without a stroke, 6 dB over the softest that was heard, the player is back."""
    frames = [*sound(0.1, 0.3, NOTE_DB, attack=True), *sound(0.4, 0.1, ECHO_DB, attack=False)]
    frames += sound(0.5, 0.3, ECHO_DB + 6.0, attack=False)
    (_, first_end), (begun, _) = spans(play(frames))
    assert (first_end, round(begun, 1)) == (ENDED_S, 0.5)


def test_a_pitch_lost_where_the_note_fell_ends_it_at_once() -> None:
    """Another note that begins in the answer hides both pitches: what sounded is not held for that."""
    hidden = [frame(0.41 + index / RATE, None, level_db=NOTE_DB - 6.0) for index in range(RATE // 10)]
    frames = [*sound(0.1, 0.3, NOTE_DB, attack=True), *sound(0.4, 0.01, ECHO_DB, attack=False), *hidden]
    assert spans(play(frames)) == [(0.1, 0.41)]


def test_a_soft_repeat_after_silence_is_heard() -> None:
    """Where nothing came back, nothing is held off: 10 dB softer after a rest is a note."""
    frames = [*sound(0.1, 0.3, NOTE_DB, attack=True), *silence(0.4, 0.05), *sound(0.45, 0.3, -30.0, attack=True)]
    assert spans(play(frames)) == [(0.1, 0.4), (0.45, 0.75)]


def test_another_hole_over_the_echo_is_heard_at_once() -> None:
    """A pitch that was not sent is the player's, however soft."""
    frames = [*sound(0.1, 0.3, NOTE_DB, attack=True), *sound(0.4, 0.05, ECHO_DB, attack=False)]
    frames += sound(0.45, 0.3, ECHO_DB, 400.0, attack=False)
    assert spans(play(frames)) == [(0.1, ENDED_S), (0.45, 0.75)]


def test_a_stray_pitch_in_the_answer_begins_nothing() -> None:
    """On the way from the answer to the next note the follower may have neither pitch; that note is not misnumbered."""
    frames = [*sound(0.1, 0.3, NOTE_DB, attack=True), *sound(0.4, 0.1, ECHO_DB, attack=False)]
    frames += [replace(item, confidence=0.1) for item in sound(0.5, 0.004, ECHO_DB, 250.0, attack=False)]
    frames += sound(0.504, 0.3, NOTE_DB, 200.0, attack=False)
    begun = only(NoteOn, play(frames))
    assert [on.midi_note - begun[0].midi_note for on in begun] == [0, 2]
    assert begun[1].time_s >= 0.504


def test_a_reed_that_slides_up_out_of_the_answer_begins_once_it_is_louder() -> None:
    """Its first cycles, a semitone flat and no louder than the answer, are no note of their own."""
    frames = [*sound(0.1, 0.3, NOTE_DB, attack=True), *sound(0.4, 0.1, ECHO_DB, attack=False)]
    frames += [*sound(0.5, 0.03, ECHO_DB, -100.0, attack=False), *sound(0.53, 0.3, NOTE_DB, attack=False)]
    begun = only(NoteOn, play(frames))
    assert len({on.midi_note for on in begun}) == 1
    assert [round(on.time_s, 2) for on in begun] == [0.1, 0.53]


def test_the_echo_of_a_bend_comes_back_where_the_bend_was() -> None:
    """A note bent by 200 cents in 100 ms comes back within what was sent lately."""
    bent = [
        replace(item, hz=item.hz * 2.0 ** (-200.0 * min(1.0, max(0.0, item.time_s - 0.3) / 0.1) / 1200.0))
        for item in sound(0.1, 0.3, NOTE_DB, attack=True)
    ]
    events = play([*bent, *answer(0.4, 0.3, -170.0)])
    assert spans(events) == [(0.1, ENDED_S)]


def bent(start_s: float, from_cents: float, to_cents: float) -> list[PitchFrame]:
    """A struck note that bends within 50 ms, 0.1 s before its end."""
    made = sound(start_s, 0.3, NOTE_DB, from_cents, attack=True)
    way = [min(1.0, max(0.0, item.time_s - start_s - 0.15) / 0.05) * (to_cents - from_cents) for item in made]
    return [replace(item, hz=item.hz * 2.0 ** (cents / 1200.0)) for item, cents in zip(made, way, strict=True)]


@pytest.mark.parametrize(("strength", "notes"), [(0.0, 1), (1.0, 2)])
def test_the_echo_is_where_the_synth_was_sent_to(strength: float, notes: int) -> None:
    """A bend that was not sent comes back unbent: known by what was sent, and by nothing else."""
    frames = [*bent(0.1, 400.0, 220.0), *answer(0.4, 0.3, 400.0)]
    assert len(spans(play(frames, sent_cents=lambda cents: strength * cents))) == notes


@pytest.mark.parametrize("octaves", [-2, -1, 1])
def test_a_voice_of_the_synth_in_another_octave_begins_nothing(octaves: int) -> None:
    """Nor does it hold what it answers to for longer than a pitch that is lost."""
    events = play([*sound(0.1, 0.3, NOTE_DB, attack=True), *answer(0.4, 0.5, 1200.0 * octaves)])
    assert spans(events) == [(0.1, 0.4)]


@pytest.mark.parametrize(("answers_ms", "notes"), [(80.0, 2), (270.0, 1)])
def test_a_late_answer_is_known_once_it_is_waited_for(answers_ms: float, notes: int) -> None:
    """A loudspeaker 200 ms behind comes back where the note was before it was bent."""
    frames = [*bent(0.1, 400.0, 220.0), *answer(0.4, 0.2, 400.0)]
    assert len(spans(play(frames, BleedSettings(guard=True, answers_ms=answers_ms)))) == notes


def test_the_late_answer_to_a_short_note_begins_nothing() -> None:
    """It may only begin when the note has ended, and be heard as an attack."""
    frames = [*sound(0.1, 0.08, NOTE_DB, attack=True), *silence(0.18, 0.06)]
    frames += [*sound(0.24, 0.08, ECHO_DB, attack=True), *answer(0.22, 0.3)[75:]]
    assert len(spans(play(frames, BleedSettings(guard=True, answers_ms=200.0)))) == 1
    assert len(spans(play(frames))) == 2


@pytest.mark.parametrize(("softer_db", "within_s"), [(6.0, 0.015), (9.0, 0.03)])
def test_a_note_held_on_after_an_accent_is_heard_again_soon(softer_db: float, within_s: float) -> None:
    """What fell at once and then does not fade is the player: within 0.2 s it is a note again, to its end."""
    accented = [
        replace(item, level_db=item.level_db - softer_db * min(1.0, max(0.0, item.time_s - 0.4) / within_s))
        for item in sound(0.1, 2.0, NOTE_DB, attack=True)
    ]
    (_, first_end), (begun, end) = spans(play(accented))
    assert begun - first_end < 0.2
    assert end == 2.1


def test_a_note_that_fades_is_no_echo() -> None:
    """Twelve dB within 300 ms (breath, or hands that close) end nothing."""
    fading = [
        replace(item, level_db=item.level_db - 12.0 * min(1.0, max(0.0, item.time_s - 0.3) / 0.3))
        for item in sound(0.1, 0.8, NOTE_DB, attack=True)
    ]
    events = play(fading)
    assert len(only(NoteOn, events)) == 1
    assert only(Inflection, events)[-1].time_s > 0.88


def test_long_after_a_note_its_pitch_is_anyones() -> None:
    """Once ``tail_ms`` is over, a soft note without a stroke begins, though it fades."""
    frames = [*sound(0.1, 0.3, NOTE_DB, attack=True), *answer(0.4, 1.0, fades_db_per_s=20.0)]
    begun = only(NoteOn, play(frames, BleedSettings(guard=True, tail_ms=300.0)))
    assert len(begun) == 2
    assert begun[1].time_s > 0.7


def test_nothing_is_heard_while_a_model_sounds() -> None:
    """From the beginning of the pause until its tail is over frames are silent, and only then."""
    pause = Pause()
    frames = [replace(item, second_hz=523.0, reeds=2) for item in sound(0.0, 1.0, NOTE_DB, attack=True)]
    heard = []
    for item in frames:
        if 0.2 <= item.ready_s < 0.2 + 1 / RATE:
            pause.begin(item.ready_s)
        if 0.5 <= item.ready_s < 0.5 + 1 / RATE:
            pause.end(item.ready_s, 0.3)
        heard.append(pause.step(item))
    silent = [item.ready_s for item in heard if item.hz == 0.0]
    assert (round(silent[0], 2), round(silent[-1], 2)) == (0.2, 0.8)
    assert len(silent) == round(0.6 * RATE)
    for item in heard:
        if item.hz == 0.0:
            assert (item.attack, item.second_hz, item.reeds, item.level_db) == (False, 0.0, 1, SILENCE_DB)
