"""Whatever comes in, what goes out stays in order."""

from __future__ import annotations

from hypothesis import event, given
from hypothesis import strategies as st

from bridge.base.events import NoteOn, PitchFrame
from quantise.playing import RATE, frame, only, quantiser, run

ANY = st.floats(allow_nan=True, allow_infinity=True)
ANY_FRAME = st.builds(PitchFrame, ANY, ANY, ANY, ANY, ANY, ANY, ANY, st.booleans())
SETTINGS = st.fixed_dictionaries(
    {
        "scale": st.sampled_from(["blues", "major", "mixolydian", "minor-pentatonic", "chromatic"]),
        "glide": st.sampled_from(["one", "split"]),
        "velocity": st.sampled_from([1, 96, 127, "attack"]),
        "also_blue": st.sampled_from([(), ("5",), ("5", "7")]),
        "onset": st.sampled_from([{}, {"settle_ms": 0}, {"restrike_guard_ms": 0, "attack_memory_ms": 500}]),
        "jump": st.sampled_from([{}, {"hold_ms": 0}]),
        "dropout": st.sampled_from([{}, {"hold_ms": 0}, {"dip_db": 0}, {"hold_ms": 500, "dip_db": 60}]),
    }
)
#: A stretch of playing: cents (None = no pitch), cents a second, frames, level, attack, seconds of time lost before it.
STRETCH = st.tuples(
    st.none() | st.floats(-3000.0, 6000.0),
    st.floats(-8000.0, 8000.0),
    st.integers(1, 30),
    st.floats(-120.0, 0.0),
    st.booleans(),
    st.sampled_from([0.0, 0.0, 0.0, -0.05, 0.05, 3.0]),
)


@given(settings=SETTINGS, played=st.lists(ANY_FRAME, max_size=40), bend_range=st.sampled_from([50.0, 200.0, 4800.0]))
def test_any_values_give_events_in_order(
    settings: dict[str, object], played: list[PitchFrame], bend_range: float
) -> None:
    """Undefined, infinite and unordered values break nothing: every on has its off, every value is in range."""
    run(quantiser(settings, bend_range_cents=bend_range), played)


@given(
    settings=SETTINGS,
    stretches=st.lists(STRETCH, max_size=20),
    bend_range=st.sampled_from([50.0, 200.0, 4800.0]),
    dirt=st.none() | st.tuples(st.integers(0, 100), ANY_FRAME),
)
def test_any_playing_gives_events_in_order(
    settings: dict[str, object],
    stretches: list[tuple[float | None, float, int, float, bool, float]],
    bend_range: float,
    dirt: tuple[int, PitchFrame] | None,
) -> None:
    """Any run of holes, glides, silences, attacks and time jumps keeps the order of its notes."""
    played: list[PitchFrame] = []
    time_s = 0.1
    for cents, slope, count, level_db, attack, lost_s in stretches:
        time_s += lost_s
        for index in range(count):
            at = None if cents is None else cents + slope * index / RATE
            played.append(frame(time_s, at, level_db=level_db, attack=attack and index == 0))
            time_s += 1.0 / RATE
    if dirt and dirt[0] < len(played):
        played[dirt[0]] = dirt[1]
    events = run(quantiser(settings, bend_range_cents=bend_range), played)
    event(f"notes: {min(len(only(NoteOn, events)), 5)}")
