"""What goes out by OSC when: thinning, hello, and that every on gets its off."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import Event
from bridge.send.osc_encoder import HELLO_EVERY_S, OscEncoder
from bridge.send.osc_messages import OscMessage
from bridge.send.pitch import SentPitch
from send.made_events import any_events, inflection, note_off, note_on, point


def encoder(interval_s: float = 0.004) -> OscEncoder:
    """An encoder that has said hello."""
    made = OscEncoder(interval_s, SentPitch(), "1.0")
    made.opening()
    return made


def names(messages: list[OscMessage]) -> list[str]:
    """The last words of the addresses."""
    return [message.address.removeprefix("/reedwire/") for message in messages]


def test_a_note_begins_moves_and_ends() -> None:
    """On and the first inflect together, the degree before the inflect that brings it, then the off."""
    osc = encoder()
    assert names(osc.encode(note_on(1.0, degree="b3"))) == ["on", "inflect"]
    assert names(osc.encode(inflection(1.1, degree="b3"))) == ["inflect"]
    assert names(osc.encode(inflection(1.2, degree="3"))) == ["degree", "inflect"]
    assert names(osc.encode(note_off(1.3))) == ["off"]
    assert names(osc.encode(inflection(1.4))) == []
    assert names(osc.encode(note_off(1.5))) == []


def test_a_note_that_begins_ends_the_one_that_sounds() -> None:
    """An off that never came is made up for."""
    osc = encoder()
    osc.encode(note_on(1.0))
    messages = osc.encode(note_on(1.1, 2))
    assert names(messages) == ["off", "on", "inflect"]
    assert messages[0].arguments == (1100, 1)
    assert [message.arguments for message in osc.release()] == [(1100, 2)]
    assert osc.release() == []


def test_onsets_offs_and_degrees_never_wait() -> None:
    """Inside the interval only inflect and pitch are held back."""
    osc = encoder(interval_s=1.0)
    osc.encode(note_on(1.0, degree="b3"))
    assert names(osc.encode(point(1.001))) == ["pitch"]
    assert names(osc.encode(point(1.002))) == []
    assert names(osc.encode(inflection(1.003, degree="3"))) == ["degree"]
    assert names(osc.encode(note_off(1.004))) == ["off"]
    assert names(osc.encode(note_on(1.005, 2))) == ["on"]


def test_the_last_inflect_goes_out_when_its_interval_is_over() -> None:
    """A held-back inflect follows with a later point, and only the newest."""
    osc = encoder()
    osc.encode(note_on(1.0))
    osc.encode(inflection(1.001, breath=0.1))
    osc.encode(inflection(1.002, breath=0.2))
    assert names(osc.encode(point(1.003))) == ["pitch"]
    assert names(osc.encode(point(1.0035))) == []
    (late,) = (message for message in osc.encode(point(1.005)) if message.address.endswith("inflect"))
    assert late.arguments[5] == 0.2


def test_a_waiting_inflect_is_replaced_by_the_newer_one_of_its_hop() -> None:
    """The point that opens a hop does not send an old inflect while one follows in each."""
    osc = encoder()
    osc.encode(note_on(1.0))
    osc.encode(point(1.002))
    osc.encode(inflection(1.002, breath=0.2))
    assert names(osc.encode(point(1.0045))) == []
    (newer,) = osc.encode(inflection(1.0045, breath=0.4))
    assert newer.arguments[5] == 0.4


def test_at_interval_nought_every_frame_goes_out() -> None:
    """Nothing is held back."""
    osc = encoder(interval_s=0.0)
    osc.encode(note_on(0.0))
    for step in range(1, 50):
        time_s = step * 64 / 48000
        assert names(osc.encode(point(time_s))) == ["pitch"]
        assert names(osc.encode(inflection(time_s, bend_cents=float(step)))) == ["inflect"]


def test_a_note_dated_back_to_its_attack_keeps_hello_and_interval() -> None:
    """A note on that is ready now and began 60 ms ago brings no second hello and lets no inflect jump its interval."""
    osc = OscEncoder(0.004, SentPitch(), "1.0")
    osc.opening()
    assert "hello" in names(osc.encode(point(5.0)))
    begun = replace(note_on(4.94), ready_s=5.005)
    messages = osc.encode(begun)
    assert names(messages) == ["on", "inflect"]
    assert messages[0].arguments[0] == 4940
    assert names(osc.encode(replace(inflection(5.004), ready_s=5.008))) == []
    assert names(osc.encode(replace(inflection(5.005), ready_s=5.0091))) == ["inflect"]


def test_hello_comes_every_five_seconds_and_when_a_stream_begins_again() -> None:
    """Twelve seconds hold two more; time that goes back brings one at once."""
    osc = OscEncoder(0.004, SentPitch(), "1.0")
    assert names(osc.opening()) == ["hello"]
    greeted = [step * 0.1 for step in range(1, 121) if "hello" in names(osc.encode(point(step * 0.1)))]
    assert [round(time_s, 1) for time_s in greeted] == [5.0, 10.0]
    assert "hello" in names(osc.encode(point(0.0)))


@given(any_events, st.floats(0.0, 0.1))
def test_any_events_give_paired_notes_and_thinned_values(events: list[Event], interval_s: float) -> None:
    """One off for each on, inflects only of the sounding note, and the interval kept between two of a kind."""
    osc = encoder(interval_s)
    sounding: list[object] = []
    times: dict[str, list[float]] = {"inflect": [], "pitch": [], "hello": [0.0]}
    for event in events:
        for message in osc.encode(event):
            kind, argument = message.address.removeprefix("/reedwire/"), message.arguments[1]
            if kind == "on":
                assert sounding == []
                sounding.append(argument)
            elif kind == "off":
                assert sounding == [argument]
                sounding.clear()
            elif kind in ("inflect", "degree"):
                assert sounding == [argument]
            if kind in times:
                times[kind].append(event.ready_s)
    assert [message.arguments[1] for message in osc.release()] == sounding
    for kind in ("inflect", "pitch"):
        assert all(after - before >= interval_s - 1e-12 for before, after in pairwise(times[kind]))
    if events:
        gaps = [after - before for before, after in pairwise([*times["hello"], events[-1].time_s])]
        assert max(gaps) < HELLO_EVERY_S + 0.4 + 1e-9
