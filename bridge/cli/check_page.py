"""What a sound check found out, on one page."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence

from bridge.base.printable import printable
from bridge.cli.check_changes import changes
from bridge.cli.room_words import gate_words
from bridge.cli.to_width import wrapped
from bridge.follow.loudspeaker import under_the_harp_db
from bridge.follow.played import Played
from bridge.harp.note_names import note_name
from bridge.send.settings import SendSettings
from bridge.wiring.delay_budget import DelayBudget
from bridge.wiring.harps import harp_in_hand
from bridge.wiring.sound_check import Checked

#: Characters of the names at the left, and of one number of the table.
_NAME, _CELL = 9, 7
#: A page is no wider than this, and without a terminal just so wide; in less the remarks of the table are left out.
WIDEST, _WITH_REMARKS = 80, 76
#: Nobody reads a page that is narrower.
_NARROWEST = 40
#: So many of the things to change are told however small the screen.
_LEAST_CHANGES = 2
#: What a small screen leaves out first, until all fits.
_LEAST_FIRST = ("Worker", "Not done", "Output", "Gate", "Card", "Input", "Speaker", "Synth", "Delay", "Playing", "Room")
#: How to see what does not fit.
_SEE_ALL = "reedwire check | less"


def page(checked: Checked, when: str, width: int, height: int | None = None) -> list[str]:
    """The whole page, of the time ``when``, in lines of at most ``width`` characters where words allow it.

    Where it would have more than ``height`` lines, only the most important of what is to be changed is told, and how
    much there is more; then the rows that matter least are left out, and the last line says how to see all.
    """
    width = max(_NARROWEST, min(width, WIDEST))
    found = changes(checked)
    told = [wrapped(text, width, f"{number}. ") for number, text in enumerate(found, start=1)] or [["Nothing."]]
    rows = _rows(checked, found, width)
    lines = [*_joined(rows, when), *(line for text in told for line in text)]
    if height is None or len(lines) <= height:
        return lines
    for name in ("", *_LEAST_FIRST):
        rows.pop(name, None)
        lines = _joined(rows, when)
        lines += _fitting(told, height - len(lines), width)
        if len(lines) <= height:
            break
    return lines


def _rows(checked: Checked, found: Sequence[str], width: int) -> dict[str, list[str]]:
    """What stands above the things to change, by name, in lines."""
    rows = {
        name: wrapped(text, width, name.ljust(_NAME))
        for name, text in [*_devices(checked), *_heard(checked, found), *_machine(checked)]
    }
    rows["Delay"] = _table(checked.budget, harp_in_hand(checked.settings.harp).root_midi, width)
    return rows | {name: wrapped(text, width, name.ljust(_NAME)) for name, text in _played(checked)}


def _joined(rows: Mapping[str, Sequence[str]], when: str) -> list[str]:
    lines = [line for row in rows.values() for line in row]
    return [f"SOUND CHECK, {when}", *lines, "", "TO CHANGE, the most important first"]


def _fitting(told: Sequence[Sequence[str]], rows: int, width: int) -> list[str]:
    """As many of the texts, in lines, as fit so many rows, but two at least; and how to see the rest of the page."""
    kept = len(told)
    footer = _footer(0, width)
    while kept > _LEAST_CHANGES and sum(map(len, told[:kept])) + len(footer) > rows:
        kept -= 1
        footer = _footer(len(told) - kept, width)
    return [*(line for text in told[:kept] for line in text), *footer]


def _footer(left: int, width: int) -> list[str]:
    """How many things to change there are more, and how to see what a small screen does not hold."""
    more = f"And {left} more: mend these first, then check again." if left else "Not all is shown here."
    return wrapped(f"{more} All: {_SEE_ALL}", width)


def _devices(checked: Checked) -> list[tuple[str, str]]:
    return [("Input", _input(checked)), ("Output", _output(checked.settings.send))]


def _heard(checked: Checked, found: Sequence[str]) -> list[tuple[str, str]]:
    """Room, gate and player; the gate where it is not among what is to be changed."""
    rows = []
    if checked.room is not None:
        room = checked.room
        hum = f"{checked.hum.mains_hz} Hz hum at {checked.hum.level_db:.0f}" if checked.hum else "no hum"
        if room.dead:
            rows.append(("Room", "nothing but silence comes"))
        else:
            rows.append(("Room", f"noise {room.noise_db:.1f} dBFS, 99 % of it under {room.most_db:.1f}; {hum}"))
            if not any(gate_words(room) in text for text in found):
                gate = checked.settings.follow.gate
                fits = f"opens at {gate.open_db:g}, closes at {gate.close_db:g} dBFS, fits"
                rows.append(("Gate", f"{fits}; the room allows {room.open_db:.1f}"))
    if checked.played is not None:
        rows.append(("Playing", _playing(checked, checked.played)))
    return rows


def _machine(checked: Checked) -> list[tuple[str, str]]:
    return [("Card", _card(checked)), ("Worker", _worker(checked))]


def _played(checked: Checked) -> list[tuple[str, str]]:
    """Synth and loudspeaker; in one line what was not tried."""
    rows, left_out = [], []
    if checked.bend:
        wide = checked.settings.send.midi.sent_bend_range
        rows.append(("Synth", f"two rises, by a note and by a bend; if unlike, set it to {wide} semitones"))
    else:
        left_out.append(f"bend test ({checked.no_bend or _how_to_bend(checked.settings.send)})")
    if checked.loudspeaker_played:
        rows.append(("Speaker", _speaker(checked)))
    else:
        left_out.append("loudspeaker")
    return [*rows, ("Not done", ", ".join(left_out))] if left_out else rows


def _input(checked: Checked) -> str:
    block = checked.settings.capture.block
    lasts = f"{1000.0 * checked.timing.block_s:.1f} ms"
    return f"{printable(checked.input)}, {checked.rate} Hz, blocks of {block} = {lasts}"


def _output(send: SendSettings) -> str:
    ports = {"none": "no MIDI", "auto": "MIDI port of our own", "virtual": "MIDI port of our own"}
    midi = ports.get(send.midi.port, f"MIDI port {send.midi.port}")
    return f"{midi}; {'no OSC' if send.osc.to == 'none' else f'OSC to {send.osc.to}'}"


def _how_to_bend(send: SendSettings) -> str:
    """What to add to the command so that the bend test is made on the port that play would use."""
    port = {"none": "PORT", "auto": "virtual"}.get(send.midi.port, shlex.quote(printable(send.midi.port)))
    return f"--midi {port}"


def _playing(checked: Checked, played: Played) -> str:
    if checked.too_little:
        return f"too little was played ({played.seconds:.1f} s)"
    if not played.heard:
        return f"nothing was heard of a harp; peak {played.peak_db:.0f} dBFS"
    root = harp_in_hand(checked.settings.harp).root_midi
    span = " to ".join(dict.fromkeys(note_name(midi, root) for midi in (played.lowest, played.highest)))
    levels = f"soft {played.soft_db:.0f}, hard {played.hard_db:.0f}, peak {played.peak_db:.1f} dBFS"
    places = "place" if played.clipped == 1 else "places"
    cut = f"overloaded in {played.clipped} {places}" if played.clipped else "not overloaded"
    clean = "noise suppression" if played.suppression.at_work else "no noise suppression seen"
    return f"{played.seconds:.1f} s, {span}: {levels}; {cut}; {clean}"


def _card(checked: Checked) -> str:
    timing = checked.timing
    between = timing.rhythm.between
    if not between.count:
        return "not measured"
    every, most, longest = (
        f"{1000.0 * seconds:.1f}" for seconds in (timing.rhythm.handed_s, between.quantile(0.99), between.most_s)
    )
    bunch = f" with {timing.rhythm.blocks_at_once} blocks" if timing.rhythm.blocks_at_once > 1 else ""
    lost = "sound lost" if checked.lost else "nothing lost"
    return f"calls every {every} ms{bunch}, 99 % within {most}, longest {longest}; {lost}"


def _worker(checked: Checked) -> str:
    work, block_s = checked.timing.work, checked.timing.block_s
    if not work.count:
        return "not measured: nobody was listened to"
    usual, most = work.quantile(0.5), work.quantile(0.99)
    free = 100.0 * max(0.0, 1.0 - most / block_s)
    took = f"{1000.0 * usual:.1f} ms a block, 99 % within {1000.0 * most:.1f} of {1000.0 * block_s:.1f}"
    return f"{took}; {free:.0f} % free without OSC and take"


def _speaker(checked: Checked) -> str:
    if checked.loudspeaker is None:
        return "nothing surely comes back"
    found, _ = checked.loudspeaker
    under = under_the_harp_db(found)
    place = f"{under:.0f} dB under" if under >= 0.0 else f"{-under:.0f} dB above"
    return f"comes back after {1000.0 * found.delay_s:.1f} ms, {place} the harp"


def _table(budget: DelayBudget, root_midi: int, width: int) -> list[str]:
    """The delay budget: a column for each note, one for how a note begins, and what each line is."""
    follower = [note.delay_s for note in budget.notes]
    names = [note_name(note.midi, root_midi) for note in budget.notes]
    if budget.begins_s > 0.0:
        follower.append(budget.begins_s)
        names.append("attack")
    columns = len(follower)
    how = "as you played" if budget.measured else "computed for this harp"
    how = "held to quantise.steady_ms" if budget.held else how
    rows = [
        ("  block", [budget.block_s] * columns, "until the card hands it over"),
        ("  window", follower, f"of the follower, {how}"),
    ]
    if budget.worker_s > 0.0:
        rows.append(("  worker", [budget.worker_s] * columns, "99 %, from the card's call to what is sent"))
    midi = f"assumed: USB; by a 5-pin cable {1000.0 * budget.cable_s:.1f}"
    if budget.midi_bytes:
        rows.append(("  MIDI", [budget.midi_s] * columns, midi))
    on_top = "without converters, driver and synth"
    rows.append(("  sum", [budget.sum_s(seconds) for seconds in follower], on_top))
    lines = [_cells("Delay", names, "in ms")]
    for name, seconds, remark in rows:
        lines.append(
            _cells(name, [f"{1000.0 * each:.1f}" for each in seconds], remark if width >= _WITH_REMARKS else "")
        )
    if width < _WITH_REMARKS:
        assumed = f"MIDI {midi}; " if budget.midi_bytes else ""
        lines += wrapped(f"Window {how}; {assumed}sum {on_top}", width, " " * _NAME)
    return lines


def _cells(name: str, cells: Sequence[str], remark: str) -> str:
    return f"{name:{_NAME}}{''.join(f'{cell:>{_CELL}}' for cell in cells)}   {remark}".rstrip()
