"""What sequencers do to a MIDI file when they save it, and what people do to notes in one."""

from __future__ import annotations

import io
import tempfile
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

import mido

from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from bridge.takes.edited import EditedNote, Tempo
from bridge.takes.midi_file import MidiFileBuilder
from bridge.takes.performed import performed

#: Ticks, and a message that stands there.
Placed = list[tuple[int, Any]]
Saving = Callable[[bytes], bytes]


def file_of(
    notes: Sequence[EditedNote],
    *,
    midi: MidiSettings | None = None,
    pitch: SentPitch | None = None,
    mpe: bool = False,
    tempo: Tempo | None = None,
) -> bytes:
    """The notes as the program writes them."""
    settings = midi or MidiSettings(mode="mpe" if mpe else "single")
    folder, data = Path(tempfile.gettempdir()), io.BytesIO()
    with MidiFileBuilder(settings, pitch or SentPitch(), 22, folder=folder, mpe=mpe, tempo=tempo) as builder:
        for event in performed(notes, []):
            builder.add(event)
        builder.finish(notes[-1].end_s if notes else 0.0)
        builder.write(data, "take")
    return data.getvalue()


def placed(data: bytes) -> Placed:
    """Every message of a file at its tick, the end of the tracks left out."""
    found: Placed = []
    for track in mido.MidiFile(file=io.BytesIO(data), charset="utf-8").tracks:
        tick = 0
        for message in track:
            tick += message.time
            if message.type != "end_of_track":
                found.append((tick, message))
    return sorted(found, key=lambda one: one[0])


def saved(messages: Placed, ticks_per_quarter: int = 960, kind: int = 0) -> bytes:
    """The messages as a file of one track."""
    track, last = mido.MidiTrack(), 0
    for tick, message in messages:
        track.append(message.copy(time=tick - last))
        last = tick
    data = io.BytesIO()
    mido.MidiFile(type=kind, ticks_per_beat=ticks_per_quarter, tracks=[track], charset="utf-8").save(file=data)
    return data.getvalue()


def one_track(data: bytes) -> bytes:
    """Format 0: all in one track."""
    return saved(placed(data))


def split_tracks(data: bytes) -> bytes:
    """Notes in one track, everything else in another before it."""
    tracks = []
    for notes in (False, True):
        track, last = mido.MidiTrack(), 0
        for tick, message in placed(data):
            if message.type.startswith("note") is notes:
                track.append(message.copy(time=tick - last))
                last = tick
        tracks.append(track)
    out = io.BytesIO()
    mido.MidiFile(type=1, ticks_per_beat=960, tracks=tracks, charset="utf-8").save(file=out)
    return out.getvalue()


def other_tempo_map(data: bytes) -> bytes:
    """The same times at 90 quarters a minute and, after a second, at 150, with 480 ticks a quarter."""
    turn_s, slow, fast = 1.0, mido.bpm2tempo(90), mido.bpm2tempo(150)
    turn = round(mido.second2tick(turn_s, 480, slow))
    messages = [(0, mido.MetaMessage("set_tempo", tempo=slow)), (turn, mido.MetaMessage("set_tempo", tempo=fast))]
    seconds, last, tempo_us = 0.0, 0, 500_000
    for tick, message in placed(data):
        seconds, last = seconds + mido.tick2second(tick - last, 960, tempo_us), tick
        if message.type == "set_tempo":
            tempo_us = message.tempo
            continue
        after = seconds - turn_s
        at = seconds * 1e6 / slow * 480 if after <= 0 else turn + after * 1e6 / fast * 480
        messages.append((round(at), message))
    return saved(sorted(messages, key=lambda one: one[0]), 480)


def ends_as_silent_beginnings(data: bytes) -> bytes:
    """Note Offs written as Note Ons of velocity 0, as many devices do (MIDI 1.0, 4.2.1)."""
    return saved(
        [
            (tick, mido.Message("note_on", channel=message.channel, note=message.note, velocity=0))
            if message.type == "note_off"
            else (tick, message)
            for tick, message in placed(data)
        ]
    )


SAVINGS: dict[str, Saving] = {
    "as it is": lambda data: data,
    "one track": one_track,
    "split tracks": split_tracks,
    "another tempo map": other_tempo_map,
    "ends as silent beginnings": ends_as_silent_beginnings,
}


def transposed(data: bytes, semitones: int) -> bytes:
    """Every note moved up."""
    return saved(
        [
            (tick, message.copy(note=message.note + semitones) if message.type.startswith("note") else message)
            for tick, message in placed(data)
        ]
    )


def without(data: bytes, unwanted: Callable[[int, Any], bool]) -> bytes:
    """The file without some messages, chosen by their tick and themselves."""
    return saved([(tick, message) for tick, message in placed(data) if not unwanted(tick, message)])


def with_more(data: bytes, more: Iterable[tuple[int, Any]]) -> bytes:
    """The file with other messages, each behind what stands at its tick."""
    return saved(sorted([*placed(data), *more], key=lambda one: one[0]))
