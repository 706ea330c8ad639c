"""The chain: who hears what, and what happens when it is disarmed or the harp changes."""

from __future__ import annotations

import numpy as np

from bridge.base.events import AudioBlock, Event, NoteOff, NoteOn, PitchPoint
from bridge.wiring.chain import Chain
from bridge.wiring.settings import load_settings
from follow.tones import RATE, blocks_of, harmonic_tone


def _chain(**flags: object) -> tuple[Chain, list[Event], list[Event]]:
    """A chain, what its player heard and what its watcher heard."""
    chain = Chain(load_settings(flags={"harp.key": "C", **flags}), RATE)
    played: list[Event] = []
    watched: list[Event] = []
    chain.add_player(played.append)
    chain.add_watcher(watched.append)
    return chain, played, watched


def _feed(chain: Chain, seconds: float, hz: float = 493.88) -> None:
    """Play a steady B4, the straight third of a C harp in cross position, from where the chain is."""
    start = round(chain.now_s * RATE)
    for block in blocks_of(harmonic_tone(hz, seconds), 128):
        chain.feed(AudioBlock(start + block.start, RATE, block.samples))


def _kinds(events: list[Event]) -> list[str]:
    return [type(event).__name__ for event in events if isinstance(event, NoteOn | NoteOff)]


def test_a_tone_is_one_note_for_all_who_listen() -> None:
    """Player and watcher hear the same note: the third, number 71."""
    chain, played, watched = _chain()
    _feed(chain, 0.3)
    chain.finish()
    assert _kinds(played) == _kinds(watched) == ["NoteOn", "NoteOff"]
    (on,) = [event for event in played if isinstance(event, NoteOn)]
    assert (on.midi_note, on.degree) == (71, "3")
    assert chain.notes == 1


def test_disarmed_it_hears_but_sends_nothing() -> None:
    """The sounding note ends, players hear nothing more, watchers only the pitch."""
    chain, played, watched = _chain()
    _feed(chain, 0.2)
    chain.arm(armed=False)
    assert _kinds(played) == ["NoteOn", "NoteOff"]
    played_before, watched_before = len(played), len(watched)
    _feed(chain, 0.2)
    assert len(played) == played_before
    assert len(watched) > watched_before
    assert all(isinstance(event, PitchPoint) for event in watched[watched_before:])


def test_a_note_held_while_arming_is_sent() -> None:
    """Armed in the middle of a held tone, it begins there, with an id of its own."""
    chain, played, _ = _chain()
    chain.arm(armed=False)
    _feed(chain, 0.3)
    assert not played
    chain.arm(armed=True)
    _feed(chain, 0.2)
    chain.finish()
    assert _kinds(played) == ["NoteOn", "NoteOff"]


def test_another_harp_ends_the_note_and_reads_the_same_pitch_anew() -> None:
    """On a G harp in cross position (root D) the same B is the sixth; note ids go on counting."""
    chain, played, _ = _chain()
    _feed(chain, 0.3)
    chain.change_harp("G")
    assert _kinds(played) == ["NoteOn", "NoteOff"]
    _feed(chain, 0.3)
    chain.finish()
    ons = [event for event in played if isinstance(event, NoteOn)]
    assert [(on.midi_note, on.degree) for on in ons] == [(71, "3"), (71, "6")]
    assert len({on.note_id for on in ons}) == 2
    times = [event.ready_s for event in played]
    assert times == sorted(times)


def test_a_steady_delay_is_the_same_for_every_note() -> None:
    """Notes of very different reeds go out the same time after their attacks, to one hop; the take hears at once."""
    chain, played, watched = _chain(**{"quantise.steady_delay": True, "quantise.steady_ms": 40.0})
    for hz in (293.66, 493.88, 587.33, 1318.5):
        _feed(chain, 0.3, hz)
        chain.feed(AudioBlock(round(chain.now_s * RATE), RATE, np.zeros(RATE // 5, np.float32)))
    chain.finish()
    delays = [event.ready_s - event.time_s for event in played if isinstance(event, NoteOn)]
    assert len(delays) == 4
    assert all(0.040 <= delay < 0.040 + 2 * 64 / RATE for delay in delays)
    assert _kinds(played) == _kinds(watched) == ["NoteOn", "NoteOff"] * 4
    assert min(event.ready_s - event.time_s for event in watched if isinstance(event, NoteOn)) < 0.02


def test_a_note_does_not_sound_on_through_lost_sound() -> None:
    """Ten lost seconds end the note where the sound broke off; a few lost blocks do not."""
    tone = harmonic_tone(493.88, 0.5)
    chain, played, _ = _chain()
    for start in (0, len(tone) + 256, 10 * RATE):
        chain.feed(AudioBlock(start, RATE, tone))
    chain.finish()
    assert _kinds(played) == ["NoteOn", "NoteOff"] * 2
    ends = [event.time_s for event in played if isinstance(event, NoteOff)]
    assert 0.9 < ends[0] < 1.1
    assert ends[1] > 10.0
