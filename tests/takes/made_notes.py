"""Notes with breakpoints for the tests of tables, and a strategy for any take of them."""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import strategies as st

from bridge.takes.edited import Breakpoint, EditedNote


def edited(
    note_id: int,
    start_s: float,
    length_s: float,
    midi_note: int,
    *,
    degree: str = "3",
    velocity: int = 96,
    points: Sequence[Breakpoint] = (Breakpoint(0.0, 0.0, 0.5),),
) -> EditedNote:
    """A note of which no reed is known, straight unless points say otherwise."""
    return EditedNote(note_id, start_s, length_s, midi_note, degree, velocity, None, "", "", None, "", points)


def _points(length: int, most_cents: float, apart: int) -> st.SearchStrategy[tuple[Breakpoint, ...]]:
    """Breakpoints with the decimals of the table; times in tens of microseconds."""
    places = st.lists(st.integers(0, length // apart), min_size=1, max_size=6, unique=True).map(sorted)
    times = places.map(lambda found: [apart * place for place in found])
    cents = st.integers(round(-100 * most_cents), round(100 * most_cents)).map(lambda value: value / 100)
    breath = st.integers(0, 1000).map(lambda value: value / 1000)

    def filled(at: list[int]) -> st.SearchStrategy[tuple[Breakpoint, ...]]:
        values = st.lists(st.tuples(cents, breath), min_size=len(at), max_size=len(at))
        return values.map(
            lambda pairs: tuple(
                Breakpoint(moment / 1e5, bend, blown) for moment, (bend, blown) in zip(at, pairs, strict=True)
            )
        )

    return times.flatmap(filled)


@st.composite
def any_notes(draw: st.DrawFn, most_cents: float = 190.0, shortest: int = 1000, apart: int = 1) -> list[EditedNote]:
    """Up to four notes in order that do not overlap, with numbers as the tables hold them.

    ``shortest`` and ``apart`` are the least length of a note and the least time between breakpoints, in 10 us.
    """
    notes: list[EditedNote] = []
    now = 0
    for note_id in range(1, draw(st.integers(0, 4)) + 1):
        start = now + draw(st.integers(0, 60_000))
        length = draw(st.integers(shortest, 40_000))
        now = start + length
        points = draw(_points(length, most_cents, apart))
        number, velocity = draw(st.integers(40, 90)), draw(st.integers(1, 127))
        notes.append(edited(note_id, start / 1e5, length / 1e5, number, velocity=velocity, points=points))
    return notes
