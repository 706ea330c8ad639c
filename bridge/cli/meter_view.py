"""The meter as lines of text for a screen of a given size: pure, so that a test can look at it."""

from __future__ import annotations

import textwrap

from rich.text import Text

from bridge.base.units import CENTS_PER_OCTAVE
from bridge.cli.cautions import CAUTIONS
from bridge.cli.letters import ROWS, large
from bridge.cli.meter_state import MeterState, blue_words, folded, note_name, root_name
from bridge.cli.road import draw_road, on_road, place_words
from bridge.wiring.meter_process import MeterSetup

#: Below these the large letters and then the less urgent lines are left out.
_LARGE_WIDTH, _LARGE_HEIGHT = 44, 18
_NARROW = 24
_THIRDS = ("b3", "3")


def draw(state: MeterState, setup: MeterSetup, width: int, height: int) -> list[Text]:
    """What to show now: at most ``height`` lines of at most ``width`` columns; a small screen keeps the most urgent."""
    inner = max(width - 2, 1)
    blocks: list[tuple[int, list[Text]]] = [
        (0, _head(state, setup, width, height)),
        (1, _note(state, setup)),
        (2, _third(state, setup, inner)),
        (3, [_breath(state, inner)]),
        (5, _last(state)),
        (4, _troubles(state, inner)),
        (6, [Text("space: listen or stop listening    q: end", style="dim")]),
        (7, [Text(line, style="dim") for line in CAUTIONS]),
    ]
    while len(blocks) > 1 and sum(len(lines) + 1 for _, lines in blocks) - 1 > height:
        blocks.remove(max(blocks, key=lambda block: block[0]))
    shown: list[Text] = []
    for _, lines in blocks:
        shown += [*([Text("")] if shown and lines else []), *lines]
    for line in shown:
        line.truncate(inner, overflow="ellipsis")
        line.pad_left(1)
    return shown[:height]


def _head(state: MeterState, setup: MeterSetup, width: int, height: int) -> list[Text]:
    """The harp, large where there is room, and whether the bridge listens."""
    armed = (
        Text("LISTENING: notes go out", style="bold")
        if state.armed
        else Text("NOT LISTENING: nothing goes out", style="bold reverse")
    )
    beside = [Text(f"reedwire {setup.title}", style="dim"), Text(state.harp), armed]
    letters = large(state.harp.split(" ")[0]) if width >= _LARGE_WIDTH and height >= _LARGE_HEIGHT else None
    if letters is None:
        return beside[1:]
    return [Text.assemble((letters[row], "bold"), "   ", beside[row]) for row in range(ROWS)]


def _note(state: MeterState, setup: MeterSetup) -> list[Text]:
    """Name, degree and cents above the root of what sounds."""
    point = state.point
    if point is None or point.hz <= 0.0:
        return [Text("silence"), Text("")]
    where = Text(f"{round(folded(point.cents)):4d} cents above {root_name(point, setup.a4_hz)}{_octaves(point.cents)}")
    if state.note is None or state.inflection is None:
        return [Text("heard, but no note" if state.armed else "heard, not sent"), where]
    sent, inflection = state.note.midi_note, state.inflection
    bend = f"bend {round(inflection.bend_cents):+d} cents"
    name = note_name(sent)
    if inflection.degree != state.note.degree:
        # It has glided to another degree: name what sounds, and say what it was begun as.
        name, bend = note_name(sent + round(inflection.bend_cents / 100.0)), f"{bend} from {name}"
    return [Text.assemble((f"{name:<4}", "bold"), f" degree {inflection.degree:<3} {bend}"), where]


def _octaves(cents: float) -> str:
    """Which octave above or below the root's own, in words; nothing for its own."""
    octaves = int(cents // CENTS_PER_OCTAVE)
    if octaves == 0:
        return ""
    many = "octave" if abs(octaves) == 1 else "octaves"
    return f", {abs(octaves)} {many} {'up' if octaves > 0 else 'down'}"


def _third(state: MeterState, setup: MeterSetup, width: int) -> list[Text]:
    """The road, with somebody on it while a third sounds, and the same in words."""
    point, inflection = state.point, state.inflection
    cents = None
    if point is not None and point.hz > 0.0 and inflection is not None and inflection.degree in _THIRDS:
        cents = folded(point.cents) if on_road(folded(point.cents), setup) else None
    trail = [folded(passed) for _, passed in state.trail] if cents is not None else []
    road = draw_road(cents, trail, setup, width) if width >= _NARROW else []
    if cents is None or inflection is None:
        return [Text("no third sounds"), *road]
    words = f"{place_words(cents, inflection.lean, setup)}; {blue_words(inflection.blueness)}"
    return [Text(f"{words}, {inflection.blueness:.0%}"), *road]


def _breath(state: MeterState, width: int) -> Text:
    """Breath as a line that grows, and in percent."""
    breath = state.inflection.breath if state.inflection is not None else 0.0
    room = max(min(width - 14, 48), 0)
    filled = round(breath * room)
    return Text.assemble("breath ", ("━" * filled, "bold"), ("╌" * (room - filled), "dim"), f" {breath:4.0%}")


def _last(state: MeterState) -> list[Text]:
    """The note that ended last."""
    return [Text("last: " + (" ".join(state.finished.sentence().split()) if state.finished else "none yet"))]


def _troubles(state: MeterState, width: int) -> list[Text]:
    """What was lost, and what the bridge has to say."""
    parts = [f"lost: {state.lost}"] if state.lost else []
    parts += [f"not shown here: {state.unseen}"] if state.unseen else []
    lost = Text(", ".join(parts), style="bold reverse") if parts else Text("lost: nothing")
    return [lost, *map(Text, textwrap.wrap(state.saying, width)[:2])]
