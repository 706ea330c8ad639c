"""The rules that keep what is not the player's from playing, joined."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pytest

from bridge.base.events import Event, NoteOff, NoteOn, PitchFrame
from bridge.quantise.bleed import BleedSettings, Pause
from bridge.quantise.double_stops import DoubleStopSettings
from bridge.quantise.hearing import Hearing
from bridge.quantise.settings import QuantiseSettings
from bridge.quantise.talk import TalkSettings
from quantise.playing import RATE, ROOT_HZ, check, frame, frames, only, quantiser

GUARDED = QuantiseSettings(bleed=BleedSettings(guard=True))
_VOICE = 0.001


def hearing(
    settings: QuantiseSettings | None = None, *, look_ahead: bool = False, pause: Pause | None = None
) -> Hearing:
    """Hearing over frames that say how surely a reed sounds."""
    return Hearing(settings or QuantiseSettings(), tells_reeds=True, look_ahead=look_ahead, pause=pause)


def play(ear: Hearing, played: Iterable[PitchFrame]) -> list[Event]:
    """Hearing and quantiser as the chain joins them."""
    player, events = quantiser(), list[Event]()
    for item in played:
        for heard in ear.step(item):
            for event in player.step(heard):
                ear.tell(event)
                events.append(event)
    for heard in ear.finish():
        events += player.step(heard)
    events += player.finish(item.time_s, item.ready_s)
    check(events)
    return events


def pitches(ear: Hearing, played: Iterable[PitchFrame]) -> set[float]:
    """The pitches that are left, Hz."""
    return {heard.hz for item in played for heard in ear.step(item)}


def voice(seconds: float) -> list[PitchFrame]:
    """Somebody speaks."""
    return [replace(item, reed=_VOICE) for item in frames(lambda _: -700.0, seconds)]


def echoed() -> list[PitchFrame]:
    """A note of 0.3 s, and 12 dB under it its answer, which fades after a tenth of a second."""
    answer = [
        frame(0.3 + index / RATE, 0.0, level_db=-32.0 - 60.0 * max(0.0, index / RATE - 0.1)) for index in range(225)
    ]
    return [*frames(lambda _: 0.0, 0.3), *answer]


@pytest.mark.parametrize(("settings", "until_s"), [(GUARDED, 0.35), (QuantiseSettings(), 0.5)])
def test_the_guard_hears_what_is_sent(settings: QuantiseSettings, until_s: float) -> None:
    """With it the note ends with the player; without it, its answer goes on for as long as it sounds."""
    (off,) = only(NoteOff, play(hearing(settings), echoed()))
    assert (off.time_s < 0.35) is (until_s == 0.35)
    assert off.time_s <= until_s + 0.1


def test_a_recording_needs_no_guard() -> None:
    """Nothing of what is made of it sounds in it: the soft end of a note is its own."""
    (off,) = only(NoteOff, play(hearing(GUARDED, look_ahead=True), echoed()))
    assert off.time_s > 0.5


def test_what_was_not_sent_as_it_was_played_is_known_all_the_same() -> None:
    """With the plain scale sent, the answer to a bent note is where it was not bent."""
    bent = frames(lambda at_s: -180.0 * min(1.0, max(0.0, at_s - 0.1) / 0.05), 0.3)
    ear = Hearing(GUARDED, tells_reeds=True, look_ahead=False, sent_cents=lambda _: 0.0)
    (off,) = only(NoteOff, play(ear, [*bent, *echoed()[225:]]))
    assert off.time_s < 0.35


@pytest.mark.parametrize(("follow", "notes"), [("harp", 1), ("any", 2)])
def test_talk_begins_no_note_unless_it_is_followed(follow: str, notes: int) -> None:
    """A voice, a rest and a reed: one note, or both."""
    settings = QuantiseSettings(talk=TalkSettings.model_validate({"follow": follow}))
    rest = [frame(1.0 + index / RATE, None, level_db=-120.0) for index in range(75)]
    reed = [replace(item, reed=0.995) for item in frames(lambda _: 0.0, 0.4, start_s=1.1)]
    assert len(only(NoteOn, play(hearing(settings), [*voice(1.0), *rest, *reed]))) == notes


def test_frames_that_tell_no_reeds_are_all_heard() -> None:
    """A follower that cannot tell a voice from a reed is believed."""
    ear = Hearing(QuantiseSettings(), tells_reeds=False, look_ahead=False)
    assert len(only(NoteOn, play(ear, voice(0.5)))) == 1


def test_what_is_left_out_is_remembered_of_a_recording_only() -> None:
    """A performance may last for hours."""
    rest = [frame(1.0 + index / RATE, None, level_db=-120.0) for index in range(RATE)]
    live, recorded = hearing(), hearing(look_ahead=True)
    for ear in (live, recorded):
        assert not only(NoteOn, play(ear, [*voice(1.0), *rest]))
    assert live.left_out == ()
    (span,) = recorded.left_out
    assert span.what == "voice"
    assert (span.start_s, span.end_s) == pytest.approx((0.0, 1.0), abs=0.01)


def howl(seconds: float) -> list[PitchFrame]:
    """A pure tone at the root that rises by 20 dB a second."""
    return [
        replace(frame(index / RATE, 0.0, level_db=-45.0 + 20.0 * index / RATE), bright=0.0)
        for index in range(round(seconds * RATE))
    ]


def test_a_howl_beside_the_harp_is_not_the_lower_of_two_reeds() -> None:
    """Of the two that sound the harp is played, whichever is named first; the howl alone is nothing."""
    ear = hearing()
    pitches(ear, howl(0.5))
    assert ear.howling
    harp = [replace(item, second_hz=ROOT_HZ, reeds=2) for item in frames(lambda _: 700.0, 0.2, start_s=0.5)]
    fifth_hz = harp[0].hz
    other = [replace(item, second_hz=fifth_hz, reeds=2) for item in frames(lambda _: 0.0, 0.2, start_s=0.7)]
    assert pitches(ear, harp) == {fifth_hz}
    assert pitches(ear, other) == {fifth_hz}
    assert pitches(ear, [frame(0.9 + index / RATE, 0.0) for index in range(20)]) == {0.0}
    assert ear.howling


def test_two_reeds_that_are_muted_end_the_note_at_once() -> None:
    """It is silence, not a pitch that is lost and waited for."""
    settings = QuantiseSettings(double_stops=DoubleStopSettings(keep="mute"))
    one = frames(lambda _: 0.0, 0.4)
    two = [replace(item, second_hz=550.0, reeds=2) for item in frames(lambda _: 0.0, 0.4, start_s=0.4, attack=False)]
    (off,) = only(NoteOff, play(hearing(settings), [*one, *two]))
    assert (off.time_s, off.ready_s) == pytest.approx((0.4, 0.4), abs=0.01)


def test_nothing_is_played_of_a_model_however_many_reeds_it_has() -> None:
    """Neither its lower nor its upper pitch, and not its attack either."""
    pause = Pause()
    pause.begin(0.0)
    for keep in ("lower", "upper"):
        settings = QuantiseSettings(double_stops=DoubleStopSettings(keep=keep))
        model = [replace(item, second_hz=1.5 * item.hz, reeds=2) for item in frames(lambda _: 0.0, 0.5)]
        heard = [item for sound in model for item in hearing(settings, pause=pause).step(sound)]
        assert {(item.hz, item.attack) for item in heard} == {(0.0, False)}


def test_a_note_ends_where_the_model_begins_and_begins_anew_after_it() -> None:
    """Held through a pause, it is two notes with the pause between them."""
    pause = Pause()
    pause.begin(0.5)
    pause.end(0.8, 0.1)
    events = play(hearing(pause=pause), frames(lambda _: 0.0, 1.5))
    (first, second) = only(NoteOn, events)
    (end, _) = only(NoteOff, events)
    assert (first.time_s, end.ready_s) == pytest.approx((0.0, 0.5), abs=0.005)
    assert second.time_s == pytest.approx(0.9, abs=0.01)
