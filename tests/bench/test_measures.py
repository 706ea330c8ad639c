"""The measures themselves, on curves made by hand, so that what they must find is known."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bench import noting, recording, special
from bench.aligning import Mask, lag_s, truth_at
from bench.cases import Case
from bench.heard import Heard, joined
from bench.measures import frame_figures, gross_places, onsets_ms
from bridge.base.events import Inflection, NoteOn
from sounds.known import Bend, Floats, KnownSound, TruthNote

HOP_S = 64 / 48000
ROOT_HZ = 440.0 * 2.0 ** ((67 - 69) / 12)
NOTE_S, GAP_S = 1.0, 0.5


def curve(hz: float, *, vibrato: float = 0.0, seconds: float = NOTE_S) -> Floats:
    """A pitch every millisecond, with vibrato of 6 Hz and so many cents."""
    times = np.arange(round(1000 * seconds)) / 1000
    return np.asarray(hz * 2.0 ** (vibrato * np.sin(2 * np.pi * 6.0 * times) / 1200.0))


def sound(*notes: Floats) -> KnownSound:
    """Notes with silence around each, all scored."""
    parts, found, at_s = [np.zeros(round(1000 * GAP_S))], [], GAP_S
    for note in notes:
        parts += [note, np.zeros(round(1000 * GAP_S))]
        length_s = len(note) / 1000
        midi = round(69 + 12 * math.log2(float(note[0]) / 440.0))
        found.append(TruthNote(at_s, at_s + length_s, midi, Bend(), at_s, at_s + length_s))
        at_s += length_s + GAP_S
    hz = np.concatenate(parts)
    samples = np.zeros(48 * len(hz), np.float32)
    return KnownSound("made", 48000, samples, tuple(found), np.arange(len(hz)) / 1000, hz, np.ones(len(hz), bool))


def hear(known: KnownSound, lag_s: float = 0.0, *, off_cents: float = 0.0) -> Heard:
    """An estimator that gives the truth ``lag_s`` late and ``off_cents`` sharp, and knows how late it is."""
    ready = np.arange(HOP_S, known.length_s, HOP_S)
    truth = truth_at(known, ready - lag_s)
    hz = np.where(truth.voiced, np.exp2((truth.cents + off_cents) / 1200.0), 0.0)
    return Heard(ready, ready - lag_s, hz)


def altered(heard: Heard, chosen: Mask, factor: float) -> Heard:
    """The same frames with the pitch of some multiplied; 0 takes them away."""
    return Heard(heard.ready_s, heard.time_s, np.where(chosen, heard.hz * factor, heard.hz))


@pytest.mark.parametrize(("hz", "band"), [(220.0, "<390"), (600.0, "390-1000"), (2000.0, ">1000")])
@pytest.mark.parametrize("lag_ms", [0.0, 3.6, 12.3, 31.0])
def test_a_known_lag_is_measured(hz: float, band: str, lag_ms: float) -> None:
    """The lag of a curve that was shifted in time is found to a tenth of a millisecond, in its own band alone."""
    known = sound(curve(hz, vibrato=50.0))
    heard = hear(known, lag_ms / 1000.0)
    assert 1000 * lag_s(known, heard, band) == pytest.approx(lag_ms, abs=0.11)
    others = [other.lag_ms for name, other in frame_figures(known, heard).bands.items() if name != band]
    assert all(math.isnan(lag) for lag in others)


def test_a_steady_tone_has_no_lag() -> None:
    """Nothing moves, so the lag is unknown, and the errors are still measured."""
    known = sound(curve(440.0))
    figures = frame_figures(known, hear(known, 0.005, off_cents=2.0))
    assert math.isnan(figures.lag_ms)
    assert figures.median_cents == pytest.approx(2.0, abs=1e-6)


def test_noise_and_octave_slips_do_not_pull_the_lag() -> None:
    """With a tenth of the frames an octave off and 5 cents of noise on the rest the lag is found all the same."""
    known = sound(curve(300.0, vibrato=50.0), curve(300.0, vibrato=30.0))
    rng = np.random.default_rng(5)
    heard = hear(known, 0.0042)
    heard = altered(heard, rng.uniform(size=len(heard.hz)) < 0.1, 2.0)
    heard = Heard(heard.ready_s, heard.time_s, heard.hz * 2.0 ** (rng.normal(0.0, 5.0, len(heard.hz)) / 1200.0))
    assert 1000 * lag_s(known, heard, "<390") == pytest.approx(4.2, abs=0.3)


def test_an_estimator_that_is_lost_has_an_infinite_lag() -> None:
    """Where everything is an octave off, or left out, no lag is made up, and it is not as if nothing moved."""
    known = sound(curve(300.0, vibrato=50.0))
    heard = hear(known, 0.004)
    for factor in (2.0, 0.0):
        assert math.isinf(lag_s(known, altered(heard, heard.hz > 0.0, factor), "<390"))
        assert math.isnan(lag_s(known, altered(heard, heard.hz > 0.0, factor), ">1000"))


def test_a_lag_beyond_what_is_searched_is_infinite() -> None:
    """A curve 80 ms late, more than the search goes, is not given the edge of the search for its lag."""
    known = sound(curve(300.0, vibrato=200.0))
    assert math.isinf(lag_s(known, hear(known, 0.080), "<390"))


def test_notes_without_any_pitch_have_infinite_errors() -> None:
    """An estimator that hears nothing has errors without end where there are notes, and none to be told elsewhere."""
    known = sound(curve(300.0, vibrato=50.0))
    heard = hear(known)
    figures = frame_figures(known, altered(heard, heard.hz > 0.0, 0.0))
    assert figures.recall == 0.0
    told = (figures.gross, figures.octave, figures.median_cents, figures.p99_cents, figures.own_p99_cents)
    assert all(math.isinf(value) for value in told)
    assert math.isinf(figures.bands["<390"].median_cents)
    assert math.isnan(figures.bands[">1000"].median_cents)


def test_errors_are_those_put_in_once_the_lag_is_out() -> None:
    """A curve 3 cents sharp and 10 ms late is 3 cents off, by the measured lag and by its own time."""
    known = sound(curve(300.0, vibrato=50.0))
    figures = frame_figures(known, hear(known, 0.010, off_cents=3.0))
    assert figures.median_cents == pytest.approx(3.0, abs=0.1)
    assert figures.p99_cents == pytest.approx(3.0, abs=0.5)
    assert figures.own_median_cents == pytest.approx(3.0, abs=1e-6)
    assert figures.recall == pytest.approx(100.0)
    assert (figures.false_voicing, figures.gross) == (0.0, 0.0)


def test_octaves_and_other_gross_errors_are_told_apart() -> None:
    """Of the voiced frames 5 % an octave high and 10 % a fifth off: 15 % gross, 5 % octave errors."""
    known = sound(curve(400.0, seconds=2.0))
    heard = hear(known)
    voiced = np.flatnonzero(heard.hz > 0.0)
    count = len(voiced)
    octave, fifth = np.zeros(len(heard.hz), bool), np.zeros(len(heard.hz), bool)
    octave[voiced[: round(0.05 * count)]] = True
    fifth[voiced[round(0.5 * count) : round(0.6 * count)]] = True
    figures = frame_figures(known, altered(altered(heard, octave, 2.0), fifth, 1.5))
    assert figures.gross == pytest.approx(15.0, abs=0.2)
    assert figures.octave == pytest.approx(5.0, abs=0.2)
    assert figures.gross_settled < figures.gross


def test_missing_frames_show_in_recall_alone() -> None:
    """An estimator that leaves out a quarter of the frames has a recall of 75 % and no gross error."""
    known = sound(curve(400.0, seconds=2.0))
    heard = hear(known)
    left_out = np.arange(len(heard.hz)) % 4 == 0
    figures = frame_figures(known, altered(heard, left_out, 0.0))
    assert figures.recall == pytest.approx(75.0, abs=0.5)
    assert figures.gross == 0.0


def test_a_pitch_in_silence_is_false_voicing() -> None:
    """A pitch in a silence well after a note is false voicing; just after the note it is not."""
    known = sound(curve(400.0))
    heard = hear(known)
    just_after = (heard.ready_s > 1.5) & (heard.ready_s < 1.55)
    later = heard.ready_s > 1.75
    tail = Heard(heard.ready_s, heard.time_s, np.where(just_after, 400.0, heard.hz))
    ghost = Heard(heard.ready_s, heard.time_s, np.where(later, 400.0, heard.hz))
    assert frame_figures(known, tail).false_voicing == 0.0
    assert frame_figures(known, ghost).false_voicing == pytest.approx(100 * 0.25 / (0.5 + 0.44), abs=0.5)


def test_onsets_are_timed_from_the_attack() -> None:
    """The first frame within 50 cents counts, not an earlier wrong one; a note never found has an infinite onset."""
    known = sound(curve(400.0), curve(500.0), curve(600.0))
    heard = hear(known)
    first, second, third = (note.attack_s for note in known.notes)
    early = (heard.ready_s >= first) & (heard.ready_s < first + 0.020)
    wrong = (heard.ready_s >= second) & (heard.ready_s < second + 0.010)
    never = heard.ready_s >= third
    heard = altered(altered(altered(heard, early, 0.0), wrong, 2.0), never, 0.0)
    found = onsets_ms(known, heard, 0.0)
    assert found[0] == pytest.approx(20.0, abs=1000 * HOP_S)
    assert found[1] == pytest.approx(10.0, abs=1000 * HOP_S)
    assert math.isinf(found[2])


def test_gross_places_say_when_and_how_far() -> None:
    """A run of octave slips is told as one place with its times, its true pitch and 1200 cents."""
    known = sound(curve(400.0))
    heard = hear(known)
    slipped = (heard.ready_s >= 0.8) & (heard.ready_s < 0.9)
    (place,) = gross_places(known, altered(heard, slipped, 2.0))
    assert place == pytest.approx((0.8, 0.9, 400.0, 1200.0), abs=0.002)


def test_joined_sounds_score_as_they_do_alone() -> None:
    """Two sounds with the same lag, one after another, have that lag and the mean of their errors."""
    low, high = sound(curve(300.0, vibrato=50.0)), sound(curve(700.0, vibrato=50.0))
    whole, heard = joined([(low, hear(low, 0.006)), (high, hear(high, 0.003))])
    figures = frame_figures(whole, heard)
    assert figures.bands["<390"].lag_ms == pytest.approx(6.0, abs=0.11)
    assert figures.bands["390-1000"].lag_ms == pytest.approx(3.0, abs=0.11)
    assert len(whole.notes) == 2
    assert whole.notes[1].attack_s == pytest.approx(low.length_s + 1.0 + GAP_S)


def note_on(ready_s: float, midi: int) -> NoteOn:
    """A Note On, of which only time and note matter here."""
    still = Inflection(1, ready_s, ready_s, 0.0, "1", 0.0, 0.0, 0.5, 0.5)
    return NoteOn(1, ready_s, ready_s, midi, 0.75, still)


def test_note_ons_are_counted_as_found_missing_extra_and_wrong() -> None:
    """Of four notes one is found and doubled, one an octave off, one too late, one missed: infinitely late."""
    pitches = (67, 69, 72, 74)
    known = sound(*(curve(440.0 * 2.0 ** ((midi - 69) / 12)) for midi in pitches))
    attacks = [note.attack_s for note in known.notes]
    sent = [
        note_on(attacks[0] + 0.010, 67),
        note_on(attacks[0] + 0.500, 67),
        note_on(attacks[1] + 0.020, 81),
        note_on(attacks[2] + 0.080, 72),
    ]
    figures = noting.note_figures(Case(known, "C", 440.0), sent)
    assert (figures.played, figures.missing, figures.extra, figures.wrong) == (4, 2, 2, 1)
    assert figures.delays_ms == pytest.approx((10.0, 20.0, 80.0, math.inf))
    assert (figures.delay_ms(0.5), figures.delay_ms(0.95)) == pytest.approx((80.0, math.inf))
    assert figures.wrong_percent == pytest.approx(125.0)


def test_a_note_taken_on_a_glide_is_right_in_any_slot_it_has_passed() -> None:
    """In a scoop every slot from the attack to 20 ms after the Note On is right, those beyond are not."""
    scoop = 440.0 * 2.0 ** (np.concatenate([np.linspace(-200.0, 0.0, 80), np.zeros(400)]) / 1200.0)
    case = Case(sound(scoop), "C", 440.0)
    attack = case.sound.notes[0].attack_s
    wrong = [noting.note_figures(case, [note_on(attack + 0.02, midi)]).wrong for midi in (66, 67, 68, 69, 70)]
    assert wrong == [1, 0, 0, 1, 1]


def test_the_depth_of_a_vibrato_is_its_amplitude() -> None:
    """A vibrato of 37 cents at 6 Hz has a depth of 37 cents, whatever its phase and pitch (definition of the sine)."""
    times = np.arange(0.0, 1.0, HOP_S)
    hz = 500.0 * 2.0 ** (37.0 * np.sin(2 * np.pi * 6.0 * times + 1.1) / 1200.0)
    assert special.depth_cents(times, hz, 6.0) == pytest.approx(37.0, abs=1e-6)


def test_what_has_grown_beyond_its_tolerance_is_named() -> None:
    """A figure that grew to its tolerance passes; one that grew more, or was lost, is told."""
    then: recording.Recorded = {"room, made": dict.fromkeys(recording.TOLERANCE, 4.3)}
    inside: recording.Recorded = {"room, made": {name: 4.3 + most for name, most in recording.TOLERANCE.items()}}
    outside: recording.Recorded = {"room, made": {**inside["room, made"], "gross": 4.351, "octave": None}}
    assert recording.worse(inside, then) == []
    assert [line.split(":")[0] for line in recording.worse(outside, then)] == ["gross", "octave"]


def test_a_figure_that_could_not_be_told_may_become_one() -> None:
    """What was unknown on record may be any number now; a sound that is not on record at all is told."""
    then: recording.Recorded = {"room, made": dict.fromkeys(recording.TOLERANCE, None)}
    now: recording.Recorded = {"room, made": dict.fromkeys(recording.TOLERANCE, 9.0)}
    assert recording.worse(now, then) == []
    assert recording.worse(now, {}) == ["not on record: room, made"]


def test_clean_sounds_may_have_no_wrong_note_more_and_all_together_three() -> None:
    """One wrong note more is told on a clean sound and not in a room; in four rooms it is told of all together."""
    then: recording.Recorded = {
        sound: dict.fromkeys(recording.TOLERANCE, 0.0)
        for sound in ("clean, made", "room, 1", "room, 2", "room, 3", "room, 4")
    }
    now = {sound: figures | {"wrong notes": 1.0} for sound, figures in then.items()}
    (line,) = recording.worse(now, then)
    assert line.startswith("wrong notes: clean, made")
    rooms = {sound: figures for sound, figures in now.items() if sound.startswith("room")}
    assert recording.worse_in_all(rooms, then) != []
    assert recording.worse_in_all(dict(list(rooms.items())[:3]), then) == []


def test_no_step_is_taken_across_a_gap() -> None:
    """Of neighbouring frames the largest step counts, not that from before to after a frame left out."""
    cents = np.array([0.0, 10.0, 0.0, 300.0, 305.0])
    heard = np.array([True, True, False, True, True])
    assert special.largest_step(cents, heard) == pytest.approx(10.0)
    assert math.isinf(special.largest_step(cents, np.array([True, False, True, False, True])))


def test_what_one_sound_loses_no_other_makes_good() -> None:
    """A sound that lost what another won is told all the same."""
    then: recording.Recorded = {sound: dict.fromkeys(recording.TOLERANCE, 1.0) for sound in ("one", "other")}
    now: recording.Recorded = {"one": then["one"] | {"unvoiced": 2.0}, "other": then["other"] | {"unvoiced": 0.0}}
    (line,) = recording.worse(now, then)
    assert line.startswith("unvoiced: one")
