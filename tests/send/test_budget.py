"""The byte budget: notes first, never above it, and nothing that matters is lost."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import Event
from bridge.send.budget import ByteBudget
from bridge.send.midi_encoder import Lane, MidiEncoder, Outgoing
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from send.made_events import any_events, inflection, note_on

budgets = st.integers(100, 4000)

#: Which lane a message of the default settings belongs to.
LANES = {11: Lane.BREATH, 74: Lane.BRIGHT, 20: Lane.BLUENESS, 21: Lane.LEAN}


def lane_of(data: bytes) -> Lane:
    """The lane, told from the bytes alone."""
    if data[0] & 0xF0 == 0xE0:
        return Lane.BEND
    return LANES.get(data[1], Lane.NOTES) if data[0] & 0xF0 == 0xB0 else Lane.NOTES


def run(events: list[Event], settings: MidiSettings) -> list[tuple[float, list[bytes], list[Outgoing]]]:
    """Time, what went out and what was asked for, event by event, and half a minute of quiet after them."""
    encoder, budget = MidiEncoder(settings, SentPitch()), ByteBudget(settings)
    steps = []
    for event in events:
        asked = encoder.encode(event)
        steps.append((event.ready_s, budget.pass_on(event.ready_s, asked), asked))
    last_s = events[-1].ready_s if events else 0.0
    for step in range(1, 301):
        time_s = last_s + 0.1 * step
        steps.append((time_s, budget.pass_on(time_s, []), []))
    return steps


@given(any_events, budgets)
def test_notes_always_go_at_once_and_in_order(events: list[Event], a_second: int) -> None:
    """Whatever the budget, every Note On and Off goes out with its event."""
    for _, went, asked in run(events, MidiSettings(bytes_per_second=a_second)):
        wanted = [data for item in asked if item.lane is Lane.NOTES for data in item.messages]
        assert [data for data in went if lane_of(data) is Lane.NOTES] == wanted


@given(any_events, budgets)
def test_any_second_stays_within_the_budget(events: list[Event], a_second: int) -> None:
    """When a value goes out that is neither a note nor the bend of one, the second behind it is within the budget."""
    spent: list[tuple[float, int]] = []
    for time_s, went, _ in run(events, MidiSettings(bytes_per_second=a_second, interval_ms=0.0)):
        values = [data for data in went if lane_of(data) is not Lane.NOTES]
        begins = any(data[0] & 0xF0 == 0x90 for data in went)
        spent.append((time_s, sum(map(len, went))))
        if len(values) > begins:
            notes_now = sum(len(data) for data in went) - sum(map(len, values))
            assert sum(size for at_s, size in spent if at_s > time_s - 1.0) - notes_now <= a_second + 1e-6


@pytest.mark.parametrize("a_second", [100, 500, 2500])
@pytest.mark.parametrize("notes_a_second", [1, 15])
def test_a_stream_that_asks_for_more_gets_the_budget_and_no_more(a_second: int, notes_a_second: int) -> None:
    """750 frames a second in which everything moves: at each value the second behind it, notes included, is within."""
    settings = MidiSettings(bytes_per_second=a_second, interval_ms=0.0)
    events: list[Event] = []
    for frame in range(3000):
        time_s, note_id, wave = frame / 750, frame * notes_a_second // 750, frame % 97 / 97
        make = note_on if not events or events[-1].note_id != note_id else inflection  # type: ignore[union-attr]
        events.append(make(time_s, note_id, bend_cents=wave, breath=wave, bright=wave, blueness=wave, lean=wave))
    spent: list[tuple[float, int]] = []
    for time_s, went, _ in run(events, settings):
        spent.append((time_s, sum(map(len, went))))
        if went and all(lane_of(data) is not Lane.NOTES for data in went):
            assert sum(size for at_s, size in spent if at_s > time_s - 1.0) <= a_second
    if notes_a_second == 1 and a_second > 100:
        # What is not used is lost to the player: a steady stream fills at least nine tenths.
        assert sum(size for at_s, size in spent if 1.0 < at_s <= 4.0) >= 0.9 * 3 * a_second


@given(any_events, budgets, st.booleans())
def test_the_last_value_of_each_always_goes_out(events: list[Event], a_second: int, fine: bool) -> None:
    """After some quiet every controller has the value that was asked for last."""
    steps = run(events, MidiSettings(bytes_per_second=a_second, fourteen_bit=fine))
    last_asked: dict[Lane, tuple[bytes, ...]] = {}
    sent: dict[tuple[int, int], bytes] = {}
    for _, went, asked in steps:
        last_asked |= {item.lane: item.messages for item in asked if item.lane is not Lane.NOTES}
        sent |= {(data[0], data[1] if data[0] & 0xF0 == 0xB0 else 0): data for data in went}
    for messages in last_asked.values():
        for data in messages:
            assert sent[data[0], data[1] if data[0] & 0xF0 == 0xB0 else 0] == data


@given(any_events, budgets)
def test_a_note_never_begins_at_a_bend_that_waits(events: list[Event], a_second: int) -> None:
    """At every Note On the last bend on the wire is the one its event asked for."""
    on_wire = wanted = None
    for _, went, asked in run(events, MidiSettings(bytes_per_second=a_second)):
        wanted = next((item.messages[0] for item in asked if item.lane is Lane.BEND), wanted)
        for data in went:
            on_wire = data if lane_of(data) is Lane.BEND else on_wire
            if data[0] & 0xF0 == 0x90:
                assert on_wire == wanted


@given(any_events)
def test_without_a_limit_everything_goes_at_once(events: list[Event]) -> None:
    """No budget and no interval: what is asked for is what goes, in wire order."""
    for _, went, asked in run(events, MidiSettings(bytes_per_second=None, interval_ms=0.0)):
        assert went == [data for item in asked for data in item.messages]


def test_what_is_short_is_spent_in_order_of_rank() -> None:
    """With credit for two values out of five, bend and breath go; the rest follow as bytes come in."""
    settings = MidiSettings(bytes_per_second=100, interval_ms=0.0)  # 6 bytes at once, then 94 a second
    encoder, budget = MidiEncoder(settings, SentPitch()), ByteBudget(settings)
    budget.pass_on(0.0, encoder.encode(note_on(0.0)))
    asked = encoder.encode(inflection(1.0, bend_cents=10.0, breath=0.9, bright=0.9, blueness=0.9, lean=0.9))
    order = [lane_of(data) for data in budget.pass_on(1.0, asked)]
    assert order == [Lane.BEND, Lane.BREATH]
    later = [lane_of(data) for step in range(1, 30) for data in budget.pass_on(1.0 + 0.01 * step, [])]
    assert later == [Lane.BLUENESS, Lane.LEAN, Lane.BRIGHT]


def test_two_values_of_a_kind_keep_the_interval_and_the_newer_one_wins() -> None:
    """A value inside the interval waits; of two that wait only the newer goes."""
    settings = MidiSettings(interval_ms=4.0)
    encoder, budget = MidiEncoder(settings, SentPitch()), ByteBudget(settings)
    budget.pass_on(0.0, encoder.encode(note_on(0.0)))
    assert budget.pass_on(0.001, encoder.encode(inflection(0.001, breath=0.6))) == []
    assert budget.pass_on(0.002, encoder.encode(inflection(0.002, breath=0.7))) == []
    assert budget.pass_on(0.0041, []) == [bytes((0xB0, 11, 89))]  # 0.7 * 127 = 88.9


def test_a_note_that_begins_does_not_wait_for_the_interval() -> None:
    """The values of a note go with it, however soon after the last ones."""
    settings = MidiSettings(interval_ms=100.0)
    encoder, budget = MidiEncoder(settings, SentPitch()), ByteBudget(settings)
    budget.pass_on(0.0, encoder.encode(note_on(0.0, breath=0.1)))
    went = budget.pass_on(0.01, encoder.encode(note_on(0.01, 2, breath=1.0)))
    assert bytes((0xB0, 11, 127)) in went
    assert went.index(bytes((0xB0, 11, 127))) < len(went) - 1


@pytest.mark.parametrize("time_s", [0.0, 0.5])
def test_a_stream_begun_again_is_not_held_up(time_s: float) -> None:
    """When time goes back, values go on without waiting for the old time to come round."""
    settings = MidiSettings()
    encoder, budget = MidiEncoder(settings, SentPitch()), ByteBudget(settings)
    budget.pass_on(100.0, encoder.encode(note_on(100.0)))
    assert budget.pass_on(time_s, encoder.encode(inflection(time_s, breath=1.0))) == [bytes((0xB0, 11, 127))]


def test_what_was_forgotten_does_not_go_out() -> None:
    """After a panic no value from before it appears."""
    settings = MidiSettings(interval_ms=50.0)
    encoder, budget = MidiEncoder(settings, SentPitch()), ByteBudget(settings)
    budget.pass_on(0.0, encoder.encode(note_on(0.0)))
    budget.pass_on(0.01, encoder.encode(inflection(0.01, breath=1.0)))
    budget.forget()
    assert budget.pass_on(1.0, []) == []


def test_what_went_without_asking_is_paid_for_afterwards() -> None:
    """A zone that is opened costs its bytes: values wait until they are earned back, notes do not."""
    settings = MidiSettings(bytes_per_second=1000)
    encoder, budget = MidiEncoder(settings, SentPitch()), ByteBudget(settings)
    budget.charge([bytes(100)])
    begun = encoder.encode(note_on(0.0))
    notes = [data for data in budget.pass_on(0.0, begun) if lane_of(data) is Lane.NOTES]
    assert len(notes) == 1
    assert budget.pass_on(0.05, []) == []
    assert budget.pass_on(0.2, []) != []
