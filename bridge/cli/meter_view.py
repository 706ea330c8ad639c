"""The meter as lines of text for a screen of a given size: pure, so that a test can look at it."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import replace
from itertools import zip_longest

from rich.text import Text

from bridge.base.units import CENTS_PER_OCTAVE, SILENCE_DB
from bridge.cli.letters import huge, large
from bridge.cli.road import draw_road, on_road, place_words
from bridge.harp.note_names import letter, note_name
from bridge.harp.tab import in_words, tab
from bridge.takes.display_state import DisplayState, folded, root_midi
from bridge.takes.finished import blue_words, signed
from bridge.wiring.meter_process import MeterSetup

#: Below these the hole and the road's edges, and the longer words, are left out.
_ROOMY_HEIGHT = 13
_WORDY_WIDTH = 36
#: What becomes of the notes while the harp is sought, in long and in short.
_SENDS_NOTHING_YET = ("nothing goes out until the harp is known", "nothing goes out yet")
_NARROW = 24
_THIRDS = ("b3", "3")
_BESIDE = "   "
#: The longest that these lines get to be: room is kept for them, so that nothing below jumps when they change.
_LONGEST_HOLE = "-3''' draw 3, bent 2½ semitones"
_LONGEST_LAST = (
    "last: Db5 -4'' heard as Bb4, degree b7, 10.00 s, -300 rising to +100 falling to -300 cents, fully blue for 10.00 s"
)
_LONGEST_PLACE = "in the blue zone, towards straight; mostly blue, 100%"
#: Blocks of this rank and above go before empty lines between the others do.
_SPARE = 8


#: How soon a block may be left out, 0 never, and its lines.
_Block = tuple[int, list[Text]]
#: Blocks up to this rank must have room below the harp in large letters, up to that one below the largest.
_BELOW_LARGE, _BELOW_HUGE = 3, 9


def draw(state: DisplayState, setup: MeterSetup, width: int, height: int) -> list[Text]:
    """What to show now: at most ``height`` lines of at most ``width`` columns; a small screen keeps the most urgent."""
    inner = max(width - 2, 1)
    setup = _over(state, setup)
    below = _below(state, setup, inner, roomy=height >= _ROOMY_HEIGHT)
    blocks = _with_head(state, setup, below, inner, height)
    while _height(blocks, gap=1) > height and max(map(_rank, blocks)) >= _SPARE:
        blocks.remove(max(blocks, key=_rank))
    while len(blocks) > 1 and _height(blocks, gap=0) > height:
        blocks.remove(max(blocks, key=_rank))
    gaps = height - _height(blocks, gap=0)
    shown: list[Text] = []
    for place, (_, lines) in enumerate(blocks):
        shown += [*([Text("")] if 0 < place <= gaps else []), *lines]
    for line in shown:
        line.pad_left(1)
    return shown[:height]


def _over(state: DisplayState, setup: MeterSetup) -> MeterSetup:
    """``setup`` with the straight third and the A4 of the harp that is in hand now."""
    if state.straight is None or state.a4_hz is None:
        return setup
    return replace(setup, straight=state.straight, a4_hz=state.a4_hz)


def _below(state: DisplayState, setup: MeterSetup, width: int, *, roomy: bool) -> list[_Block]:
    """All that stands below the harp."""
    ranked = [
        (1, _no_take(state, width)),
        (2, [*_note(state, setup), *(_hole(state, width) if roomy and setup.harps else [])]),
        (3, _third(state, setup, width, roomy=roomy)),
        (7, [] if state.sought else [_breath(state, width)]),
        (8, _last(state, width)),
        (4, _troubles(state)),
        # What comes at once with another line, as when a whole sound system goes away, must not be lost to it.
        (10, [Text(f"before that: {state.said_before}", style="dim")] if state.said_before else []),
        (6, [Text(_keys(setup, width), style="dim")]),
        (9, [Text(line, style="dim") for line in setup.cautions]),
        (10, [Text(_delays(state), style="dim")] if state.delays else []),
    ]
    return [(rank, [part for line in lines for part in _wrapped(line, width)]) for rank, lines in ranked if lines]


def _with_head(state: DisplayState, setup: MeterSetup, below: list[_Block], width: int, height: int) -> list[_Block]:
    """The harp, as large as there is room for, over what stands below it."""
    name = state.harp.split(" ")[0]
    for letters, most_urgent, gap in ((huge(name), _BELOW_HUGE, 1), (large(name), _BELOW_LARGE, 0)):
        blocks = [*_head(letters, state, setup, width), *below] if letters and len(letters[0]) <= width else []
        urgent = [block for block in blocks if _rank(block) <= most_urgent]
        if urgent and _height(urgent, gap=gap) <= height:
            return blocks
    return [*_names(state, setup, width), (0, _wrapped(_armed(state, setup, width), width)), *below]


def _rank(block: _Block) -> int:
    """How soon the block may be left out."""
    return block[0]


def _height(blocks: Sequence[_Block], *, gap: int) -> int:
    """Lines that the blocks take with ``gap`` empty lines between them."""
    return sum(len(lines) + gap for _, lines in blocks) - gap


def _wrapped(line: Text, width: int) -> list[Text]:
    """The line as it is where it fits, else its words on as many lines as they need."""
    if line.cell_len <= width:
        return [line]
    return [Text(part, style=line.style) for part in textwrap.wrap(" ".join(line.plain.split()), width)]


def _kept_room(line: Text, longest: str, width: int) -> list[Text]:
    """The line, wrapped, and empty lines up to what the longest would need."""
    lines = _wrapped(line, width)
    return lines + [Text("") for _ in range(len(_wrapped(Text(longest), width)) - len(lines))]


def _armed(state: DisplayState, setup: MeterSetup, width: int) -> Text:
    """Whether the bridge listens, and what becomes of what it hears: where it goes, if there is room to say so."""
    words, what = ("LISTENING", "notes go out") if state.armed else ("NOT LISTENING", "nothing goes out")
    if state.armed and setup.goes_to is not None:
        where = f"{what} to {setup.goes_to}" if setup.goes_to else "nothing is sent anywhere"
        what = where if len(f"{words}: {where}") <= width or not setup.goes_to else what
    if state.armed and state.sought:
        long, short = _SENDS_NOTHING_YET
        what = long if len(f"{words}: {long}") <= width else short
    return Text(f"{words}: {what}" if width >= _WORDY_WIDTH else words, style="bold" if state.armed else "bold reverse")


def _no_take(state: DisplayState, width: int) -> list[Text]:
    """That a take which should be kept is not, as long as that is so, and since when if there is room."""
    if state.take_stopped_s is None:
        return []
    kept = f"it stopped after {state.take_stopped_s:.1f} s" if state.take_stopped_s else "nothing is kept"
    return [Text(f"NO TAKE: {kept}" if width >= _WORDY_WIDTH else "NO TAKE", style="bold reverse")]


def _keys(setup: MeterSetup, width: int) -> str:
    """The keys and what they do, in the longest words that one line holds."""
    arm = "space" if setup.arm_key is None else f"space or {setup.arm_key}"
    harps = len(setup.harps) > 1
    harp, tap = "1 to 9, n, p: harp" * harps, "t in time: tempo" * setup.taps
    long = "    ".join(filter(None, (f"{arm}: listen or stop listening", harp, tap, "q: end")))
    short = "  ".join(
        filter(None, (f"{arm}: listen or not", "1-9, n, p: harp" * harps, "t: tempo" * setup.taps, "q: end"))
    )
    return long if len(long) <= width else short


def _head(letters: list[str], state: DisplayState, setup: MeterSetup, width: int) -> list[_Block]:
    """The harp in large letters, and beside it its name, the set or what runs, and whether the bridge listens.

    Where all of that is too wide only whether it listens stands beside the letters, or below them.
    """
    room = width - len(letters[0]) - len(_BESIDE)
    whole = [
        _set(state, setup) or Text(f"reedwire {setup.title}", style="dim"),
        Text(state.harp),
        _armed(state, setup, room),
    ]
    short = [Text(""), _armed(state, setup, 0)]
    beside = next((lines for lines in (whole, short) if all(line.cell_len <= room for line in lines)), [])
    rows = [
        Text.assemble((row, "bold"), _BESIDE, words) if words else Text(row, style="bold")
        for row, words in zip_longest(letters, beside)
    ]
    if beside is whole:
        return [(0, rows)]
    return [
        (0, rows if beside else [*rows, *_wrapped(_armed(state, setup, width), width)]),
        *_names(state, setup, width),
    ]


def _names(state: DisplayState, setup: MeterSetup, width: int) -> list[_Block]:
    """The harp and the set in ordinary letters."""
    lines = [Text(state.harp), _set(state, setup)]
    parts = [part for line in lines if line for part in _wrapped(line, width)]
    return [(5, parts)] if parts else []


def _set(state: DisplayState, setup: MeterSetup) -> Text:
    """The set of harps by place, the one in hand in brackets; nothing where there is only one harp."""
    places = [f"{place} {harp.key}" for place, harp in enumerate(setup.harps, start=1)] if len(setup.harps) > 1 else []
    return Text("  ".join(f"[{words}]" if at == state.place else words for at, words in enumerate(places, start=1)))


def _without_pitch(state: DisplayState) -> str:
    """Why no pitch is shown."""
    if state.stalled:
        return "no sound comes in"
    sounds = state.point is not None and state.point.level_db > SILENCE_DB
    return "a sound, but no harp" if sounds else "silence"


def _note(state: DisplayState, setup: MeterSetup) -> list[Text]:
    """Name, degree and cents above the root of what sounds."""
    point = state.heard
    if point is None:
        return [Text(_without_pitch(state)), Text("")]
    if state.sought:
        return [Text("heard, not sent yet" if state.armed else "heard, not sent"), Text("")]
    cents = round(folded(point.cents))
    side = "above" if cents >= 0 else "below"
    root = root_midi(point, setup.a4_hz)
    where = Text(f"{abs(cents):4d} cents {side} {letter(root)}{_octaves(point.cents)}")
    if state.note is None or state.inflection is None:
        return [Text("heard, but no note" if state.armed else "heard, not sent"), where]
    sent, inflection = state.note.midi_note, state.inflection
    bend = f"bend {signed(inflection.bend_cents)} cents"
    name = note_name(sent, root)
    if inflection.degree != state.note.degree:
        # It has glided to another degree: name what sounds, and say what it was begun as.
        name, bend = note_name(sent + round(inflection.bend_cents / 100.0), root), f"{bend} from {name}"
    return [Text.assemble((f"{name:<4}", "bold"), f" degree {inflection.degree:<3} {bend}"), where]


def _hole(state: DisplayState, width: int) -> list[Text]:
    """The likely reed of the note that sounds, as tab and in words; nothing where none sounds."""
    reading = state.reading
    words = "" if reading is None else f"{tab(reading, state.convention):<4} {in_words(reading)}"
    return _kept_room(Text(words), _LONGEST_HOLE, width)


def _octaves(cents: float) -> str:
    """Which octave above or below the root's own, in words; nothing for its own."""
    octaves = round((cents - folded(cents)) / CENTS_PER_OCTAVE)
    if octaves == 0:
        return ""
    many = "octave" if abs(octaves) == 1 else "octaves"
    return f", {abs(octaves)} {many} {'up' if octaves > 0 else 'down'}"


def _third(state: DisplayState, setup: MeterSetup, width: int, *, roomy: bool) -> list[Text]:
    """The road, with somebody on it while a third sounds, and the same in words."""
    point, inflection = state.heard, state.inflection
    cents = None
    if point is not None and inflection is not None and inflection.degree in _THIRDS:
        cents = folded(point.cents) if on_road(folded(point.cents), setup) else None
    trail = [folded(passed) for _, passed in state.trail] if cents is not None else []
    road = draw_road(cents, trail, setup, width) if width >= _NARROW else []
    road = road if roomy else road[::2]
    if cents is None or inflection is None:
        words = "no third until the harp is known" if state.sought else "no third sounds"
        return [*_kept_room(Text(words), _LONGEST_PLACE, width), *road]
    words = f"{place_words(cents, inflection.lean, setup)}; {blue_words(inflection.blueness)}"
    return [*_kept_room(Text(f"{words}, {inflection.blueness:.0%}"), _LONGEST_PLACE, width), *road]


def _breath(state: DisplayState, width: int) -> Text:
    """Breath as a line that grows, and in percent."""
    breath = state.inflection.breath if state.inflection is not None else 0.0
    room = max(min(width - 14, 48), 0)
    filled = round(breath * room)
    return Text.assemble("breath ", ("━" * filled, "bold"), ("╌" * (room - filled), "dim"), f" {breath:4.0%}")


def _last(state: DisplayState, width: int) -> list[Text]:
    """The note that ended last."""
    words = state.finished.words() if state.finished else "none yet"
    return _kept_room(Text(f"last: {words}"), _LONGEST_LAST, width)


def _delays(state: DisplayState) -> str:
    """How soon what is heard goes out, and how often it was late."""
    half_s, most_s, late = state.delays or (0.0, 0.0, 0)
    return f"sent {1000.0 * half_s:.1f} ms after the sound card, 99 of 100 within {1000.0 * most_s:.1f}; late: {late}"


def _troubles(state: DisplayState) -> list[Text]:
    """What was lost, and what the bridge has to say."""
    parts = [f"lost: {state.lost}"] if state.lost else []
    parts += [f"not shown here: {state.unseen}"] if state.unseen else []
    lost = [Text(", ".join(parts), style="bold reverse")] if parts else []
    return [*lost, *([Text(state.saying)] if state.saying else [])]
