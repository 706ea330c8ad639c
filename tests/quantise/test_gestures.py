"""What is one note and what is two."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import Inflection, NoteOff, NoteOn, PitchFrame, PitchPoint
from quantise.playing import DELAY_S, RATE, ROOT_HZ, ROOT_MIDI, frame, frames, only, quantiser, run

# G4, the cross root of a C harp, is MIDI note 67; B4, its major third, 71 (MIDI 1.0: A4 = 69).
THIRD_MIDI = 71


def glide(start: float, end: float, seconds: float, hold_s: float = 0.05) -> list[PitchFrame]:
    """A sound that holds ``start``, glides evenly to ``end`` and holds that."""
    return frames(
        lambda at: start + (end - start) * min(max((at - hold_s) / seconds, 0.0), 1.0), seconds + 2.0 * hold_s
    )


def test_a_held_reed_is_one_note_in_its_slot() -> None:
    """A steady fifth gives one note on the fifth, from its attack to the moment its pitch ends."""
    played = frames(lambda at: 702.0 if at < 0.5 else None, 0.6, start_s=0.2)
    events = run(quantiser(), played)
    (on,), (off,) = only(NoteOn, events), only(NoteOff, events)
    assert (on.midi_note, on.degree) == (ROOT_MIDI + 7, "5")
    assert on.time_s == pytest.approx(0.2)
    assert off.time_s == pytest.approx(0.7, abs=1.5 / RATE)
    assert on.inflection.bend_cents == pytest.approx(2.0)
    assert on.velocity == pytest.approx(96 / 127)


def test_each_frame_of_a_note_gives_one_inflection() -> None:
    """From the note's start on every frame gives one inflection with the raw bend."""
    events = run(quantiser(), frames(lambda at: 100.0 * at, 0.4))
    (on,) = only(NoteOn, events)
    inflections = only(Inflection, events)
    assert len(inflections) + 1 == round(0.4 * RATE) - 2
    for inflection in inflections:
        assert inflection.bend_cents == pytest.approx(100.0 * inflection.time_s, abs=1e-6)
    assert on.degree == "1"


def test_a_third_from_minor_to_major_is_one_note() -> None:
    """A third begun at the minor and released to the major is one note, on the major third, blue in between."""
    events = run(quantiser(), glide(300.0, 400.0, 0.2))
    (on,) = only(NoteOn, events)
    inflections = only(Inflection, events)
    assert (on.midi_note, on.degree) == (THIRD_MIDI, "3")
    assert {inflection.degree for inflection in inflections} == {"3"}
    assert on.inflection.bend_cents == pytest.approx(-100.0)
    assert inflections[-1].bend_cents == pytest.approx(0.0)
    assert max(inflection.blueness for inflection in inflections) == 1.0
    assert (inflections[0].lean, inflections[-1].lean) == pytest.approx((-1.0, 1.0))


@pytest.mark.parametrize("begin", [290.0, 319.0, 330.0])
def test_a_third_begun_low_takes_the_number_of_the_third(begin: float) -> None:
    """Begun 70 to 110 cents below the straight third, it is still the third."""
    (on,) = only(NoteOn, run(quantiser(), glide(begin, 400.0, 0.3)))
    assert (on.midi_note, on.degree) == (THIRD_MIDI, "3")


@pytest.mark.parametrize("seconds", [0.030, 0.060, 0.100, 0.300])
def test_a_three_semitone_bend_is_one_note_with_a_wide_range(seconds: float) -> None:
    """The deep bend of draw 3, even in 30 ms (10 cents a ms), is one note whose degree follows."""
    events = run(quantiser(bend_range_cents=1200.0), glide(400.0, 100.0, seconds))
    (on,) = only(NoteOn, events)
    inflections = only(Inflection, events)
    assert on.midi_note == THIRD_MIDI
    assert inflections[-1].bend_cents == pytest.approx(-300.0)
    degrees = [inflection.degree for inflection in inflections]
    assert list(dict.fromkeys(degrees)) == ["3", "2", "b2"]


def test_a_bend_beyond_the_range_goes_over_to_the_nearest_slot() -> None:
    """With a range of two semitones the same bend goes over legato, and no bend exceeds the range."""
    events = run(quantiser(), glide(400.0, 100.0, 0.3))
    ons, offs = only(NoteOn, events), only(NoteOff, events)
    assert [on.midi_note for on in ons] == [THIRD_MIDI, ROOT_MIDI + 2]
    assert offs[0].time_s == ons[1].time_s
    assert events.index(offs[0]) + 1 == events.index(ons[1])
    assert all(abs(inflection.bend_cents) <= 200.0 for inflection in only(Inflection, events))


def test_a_bend_that_no_slot_can_hold_keeps_its_note() -> None:
    """Where the scale has no slot near enough the note goes on, whatever the range."""
    events = run(quantiser({"scale": "root", "scales": {"root": "1"}}), glide(0.0, 500.0, 0.3))
    assert len(only(NoteOn, events)) == 1
    assert only(Inflection, events)[-1].bend_cents == pytest.approx(500.0)


@pytest.mark.parametrize("middle", [0.0, 250.0, 350.0, 450.0, 700.0])
def test_vibrato_splits_nothing(middle: float) -> None:
    """50 cents at 6 Hz, wherever its middle lies, is one note."""
    events = run(quantiser(), frames(lambda at: middle + 50.0 * math.sin(12.0 * math.pi * at), 1.0))
    assert len(only(NoteOn, events)) == 1


def test_a_noisy_fast_bend_splits_nothing() -> None:
    """A follower's jitter of 4 cents does not turn 5 cents a ms into a jump."""
    bent = glide(400.0, 100.0, 0.06)
    noisy = [replace(item, hz=item.hz * 2.0 ** ((-1) ** index * 4.0 / 1200.0)) for index, item in enumerate(bent)]
    assert len(only(NoteOn, run(quantiser(bend_range_cents=1200.0), noisy))) == 1


@pytest.mark.parametrize("size", [-1200.0, -300.0, -100.0, 100.0, 200.0, 500.0])
@pytest.mark.parametrize("smear_s", [0.0, 0.004])
def test_a_jump_is_another_note(size: float, smear_s: float) -> None:
    """A step of a semitone or more, sharp or smeared over a follower's window, is a second note on its own slot."""
    played = frames(lambda at: 700.0 + size * min(max((at - 0.2) / (smear_s or 1e-9), 0.0), 1.0), 0.4)
    events = run(quantiser(bend_range_cents=4800.0), played)
    first, second = only(NoteOn, events)
    assert second.midi_note - first.midi_note == round(size / 100.0)
    assert second.time_s == pytest.approx(0.2, abs=0.008)
    assert second.ready_s - second.time_s < 0.02
    assert only(NoteOff, events)[0].time_s == second.time_s


@pytest.mark.parametrize("strays", [1, 3])
def test_a_stray_frame_is_no_note(strays: int) -> None:
    """Up to a few frames an octave off leave no note and no bend behind."""
    played = frames(lambda at: 1200.0 if 0.2 <= at < 0.2 + (strays - 0.5) / RATE else 0.0, 0.4)
    assert sum(item.hz > 1.5 * ROOT_HZ for item in played) == strays
    events = run(quantiser(), played)
    assert len(only(NoteOn, events)) == 1
    assert all(abs(inflection.bend_cents) < 1.0 for inflection in only(Inflection, events))


def test_two_holes_in_fast_alternation_are_two_notes_in_turn() -> None:
    """A shake between draw 4 and draw 5 at 8 changes a second is one note a change."""
    played = frames(lambda at: 700.0 if int(at * 8.0) % 2 == 0 else 1000.0, 1.0)
    degrees = [on.degree for on in only(NoteOn, run(quantiser(), played))]
    assert degrees == ["5", "b7"] * 4


def test_a_restrike_is_a_new_note_at_the_same_pitch() -> None:
    """Ten attacks on one unbroken pitch, each after a dip of the level, are ten notes, each from its attack."""
    played = [item for index in range(10) for item in frames(lambda _: 400.0, 0.1, start_s=index / 10.0)]
    played = [replace(item, level_db=-28.0) if item.time_s % 0.1 > 0.09 else item for item in played]
    events = run(quantiser(), played)
    ons, offs = only(NoteOn, events), only(NoteOff, events)
    assert [on.time_s for on in ons] == pytest.approx([index / 10.0 for index in range(10)])
    assert {on.midi_note for on in ons} == {THIRD_MIDI}
    assert [off.time_s for off in offs[:-1]] == pytest.approx([on.time_s for on in ons[1:]])


def test_a_restrike_ends_the_note_before_the_next_pitch_is_there() -> None:
    """The old note ends with the attack; the new one follows as soon as there is a pitch."""
    played = frames(lambda _: 400.0, 0.2)
    played += frames(lambda at: None if at < 0.009 else 400.0, 0.2, start_s=0.2)
    events = run(quantiser(), played)
    assert only(NoteOff, events)[0].ready_s == pytest.approx(0.2 + DELAY_S)
    second = only(NoteOn, events)[1]
    assert second.time_s == pytest.approx(0.2)
    assert second.ready_s > 0.209 + DELAY_S


def test_a_late_mark_of_the_same_attack_is_no_restrike() -> None:
    """An attack marked some ms after the note has begun belongs to it."""
    played = frames(lambda _: 400.0, 0.2)
    played[12] = replace(played[12], attack=True)
    assert len(only(NoteOn, run(quantiser(), played))) == 1


def test_a_lost_pitch_at_full_level_is_bridged() -> None:
    """70 ms without a pitch while the level stays up end nothing; 90 ms end the note where the pitch was lost."""
    for gap_s, notes in ((0.020, 1), (0.070, 1), (0.090, 2)):
        played = frames(lambda _: 400.0, 0.4)
        played = [replace(item, hz=0.0) if 0.2 <= item.time_s < 0.2 + gap_s else item for item in played]
        events = run(quantiser(), played)
        assert len(only(NoteOn, events)) == notes
    assert only(NoteOff, events)[0].time_s == pytest.approx(0.2, abs=1.0 / RATE)


def test_a_lost_pitch_at_a_low_level_ends_the_note_at_once() -> None:
    """When the level has dipped with the pitch the note ends in that very frame."""
    player = quantiser()
    for item in frames(lambda _: 400.0, 0.2):
        player.step(item)
    point, off = player.step(frame(0.2, None, level_db=-30.0))
    assert isinstance(point, PitchPoint)
    assert isinstance(off, NoteOff)
    assert off.time_s == pytest.approx(0.2)


@pytest.mark.parametrize(("there", "degree"), [(300.0, "3"), (500.0, "4"), (700.0, "5"), (1600.0, "3")])
def test_another_pitch_after_a_gap_is_another_note(there: float, degree: str) -> None:
    """A hole that answers another after a short loss of pitch is a new note though no attack was heard."""
    played = frames(lambda at: 400.0 if at < 0.2 else there, 0.4)
    played = [replace(item, hz=0.0) if 0.2 <= item.time_s < 0.215 else item for item in played]
    assert [on.degree for on in only(NoteOn, run(quantiser(bend_range_cents=4800.0), played))] == ["3", degree]


def test_split_glides_begin_a_note_at_each_border() -> None:
    """For synths without bend a three-semitone bend gives a note for every slot it passes; the third stays whole."""
    played = glide(400.0, 100.0, 0.6, hold_s=0.1)
    events = run(quantiser({"glide": "split"}), played)
    assert [on.midi_note - ROOT_MIDI for on in only(NoteOn, events)] == [4, 2, 1]


@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_split_glides_have_margin_and_hold(side: float) -> None:
    """A vibrato over a slot's border does not split even then."""
    played = frames(lambda at: side * (45.0 - 40.0 * math.cos(12.0 * math.pi * at)), 1.0)
    assert len(only(NoteOn, run(quantiser({"glide": "split"}), played))) == 1
    bare = quantiser({"glide": "split", "split": {"margin_cents": 0, "hold_ms": 0}})
    assert len(only(NoteOn, run(bare, played))) > 5


def test_breath_is_the_level_between_floor_and_ceiling() -> None:
    """Breath runs linearly in dB from 0 at the floor to 1 at the ceiling."""
    player = quantiser({"breath": {"floor_db": -50, "ceiling_db": -10}})
    played = [replace(item, level_db=-50.0 + 100.0 * item.time_s) for item in frames(lambda _: 0.0, 0.5)]
    for inflection in only(Inflection, run(player, played)):
        assert inflection.breath == pytest.approx(min(2.5 * inflection.time_s, 1.0))


def test_velocity_can_come_from_the_attack() -> None:
    """With velocity from the attack a louder beginning gives a greater velocity."""
    heard = []
    for level in (-40.0, -12.0):
        played = [replace(item, level_db=level) for item in frames(lambda _: 0.0, 0.1)]
        heard += [on.velocity for on in only(NoteOn, run(quantiser({"velocity": "attack"}), played))]
    assert heard[0] < heard[1]


def test_the_fifth_and_the_seventh_are_blue_only_when_asked() -> None:
    """A flattened fifth has no blueness unless it is switched on."""
    played = frames(lambda _: 650.0, 0.1)
    plain = only(Inflection, run(quantiser(), played))
    asked = only(Inflection, run(quantiser({"also_blue": [5]}), played))
    assert {inflection.blueness for inflection in plain} == {0.0}
    assert {inflection.blueness for inflection in asked} == {1.0}


@given(semitones=st.integers(-24, 24), cents=st.floats(-1200.0, 3600.0))
def test_a_transposed_harp_transposes_the_notes(semitones: int, cents: float) -> None:
    """The same playing on a harp so many semitones higher gives the same events, that much higher."""
    ratio = 2.0 ** (semitones / 12.0)
    played = frames(lambda at: cents + 20.0 * math.sin(30.0 * at), 0.05)
    low = run(quantiser(), played)
    high = run(
        quantiser(root_hz=ROOT_HZ * ratio, root_midi=ROOT_MIDI + semitones),
        [replace(item, hz=item.hz * ratio) for item in played],
    )
    assert [on.midi_note + semitones for on in only(NoteOn, low)] == [on.midi_note for on in only(NoteOn, high)]
    for below, above in zip(only(Inflection, low), only(Inflection, high), strict=True):
        assert above.bend_cents == pytest.approx(below.bend_cents, abs=1e-6)


def test_finish_ends_what_sounds_and_lets_go_on() -> None:
    """After the end another note can follow, with a number of its own."""
    player = quantiser()
    events = run(player, frames(lambda _: 0.0, 0.1))
    events += player.finish(0.2, 0.2)
    assert len(only(NoteOff, events)) == 1
    more = run(player, frames(lambda _: 0.0, 0.1, start_s=0.3))
    assert [on.note_id for on in only(NoteOn, events + more)] == [1, 2]
