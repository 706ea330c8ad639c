"""``performance.mid`` against the standard and read back by two other libraries."""

from __future__ import annotations

import io
import math
import tempfile
import tracemalloc
from collections.abc import Iterable
from pathlib import Path
from typing import Any, cast

import mido
import music21
import pretty_midi
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.base.events import Event, Inflection, NoteOn
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from bridge.takes.edited import Tempo
from bridge.takes.midi_beats import MidiBeats
from bridge.takes.midi_file import MidiFileBuilder
from bridge.takes.settings import TakeSettings
from send.made_events import any_events, inflection, note_off, note_on, point

#: 960 ticks a quarter at 120 quarters a minute: 60 / (120 * 960) s.
TICK_S = 1 / 1920


def build(events: list[Event], name: str = "solo", program: int | None = None, **midi: object) -> bytes:
    """The file of these events."""
    with builder_of(events, program, MidiSettings.model_validate(midi)) as builder:
        builder.finish(events[-1].time_s if events else 0.0)
        return written(builder, name)


def builder_of(
    events: Iterable[Event],
    program: int | None = None,
    midi: MidiSettings | None = None,
    *,
    mpe: bool = False,
    tempo: Tempo | None = None,
) -> MidiFileBuilder:
    """A builder that has taken these events."""
    folder = Path(tempfile.gettempdir())
    builder = MidiFileBuilder(midi or MidiSettings(), SentPitch(), program, folder=folder, mpe=mpe, tempo=tempo)
    for event in events:
        builder.add(event)
    return builder


def written(builder: MidiFileBuilder, name: str, tempo: Tempo | None = None, *, mark: str = "") -> bytes:
    """The file as it writes it."""
    data = io.BytesIO()
    builder.write(data, name, tempo, mark=mark)
    return data.getvalue()


def performance() -> list[Event]:
    """A released third, the same note again at once, and a low note after a rest; bends move every 10 ms."""
    events: list[Event] = []
    for note_id, start_s, length_s, midi_note in ((1, 0.0, 0.5, 71), (2, 0.5, 0.3, 71), (3, 1.25, 0.4, 62)):
        for step in range(round(length_s * 100)):
            time_s = start_s + 0.01 * step
            bend = -90.0 * math.exp(-step / 10)
            events.append(point(time_s))
            make = note_on if step == 0 else inflection
            events.append(
                note_on(time_s, note_id, midi_note, bend_cents=bend)
                if make is note_on
                else inflection(time_s, note_id, bend_cents=bend)
            )
        events.append(note_off(start_s + length_s, note_id))
    return events


def test_the_header_and_the_first_events_are_those_of_the_standard() -> None:
    """Standard MIDI Files 1.0 (RP-001): MThd, length 6, format 1, two tracks, 960; name and tempo at tick 0."""
    data = build([], "Lá")
    assert data[:14] == bytes.fromhex("4D546864 00000006 0001 0002 03C0")
    # 500,000 us a quarter = 07A120h; the name is FF 03, its length in bytes, UTF-8 (á is C3 A1).
    conductor = bytes.fromhex("00 FF 03 03 4C C3 A1  00 FF 51 03 07 A1 20  00 FF 2F 00")
    # RPN 0 at tick 0, with running status as the standard allows.
    notes = bytes.fromhex("00 FF 03 03 4C C3 A1  00 B0 65 00 00 64 00 00 06 02 00 26 00  00 FF 2F 00")
    chunks = b"".join(b"MTrk" + len(track).to_bytes(4, "big") + track for track in (conductor, notes))
    assert data[14:] == chunks


def test_the_program_follows_the_bend_range(tmp_path: Path) -> None:
    """Program Change (MIDI 1.0, 4.2.1) is Cn pp, at tick 0; pretty_midi calls 22 the harmonica of GM."""
    path = tmp_path / "performance.mid"
    path.write_bytes(build(performance(), program=TakeSettings().midi_program, channel=3))
    assert bytes.fromhex("00 B2 65 00 00 64 00 00 06 02 00 26 00  00 C2 16") in path.read_bytes()
    (instrument,) = pretty_midi.PrettyMIDI(str(path)).instruments
    assert pretty_midi.program_to_instrument_name(instrument.program) == "Harmonica"
    without = mido.MidiFile(file=io.BytesIO(build(performance())))
    assert "program_change" not in {message.type for message in without.tracks[1]}


def test_a_long_file_is_made_without_a_list_of_its_messages(tmp_path: Path) -> None:
    """Collecting 60,000 messages and writing their file takes less memory than four bytes each would."""
    with builder_of([note_on(0.0)]) as builder, (tmp_path / "long.mid").open("wb") as out:
        tracemalloc.start()
        try:
            for step in range(1, 60_000):
                builder.add(inflection(0.004 * step, bend_cents=step % 100 - 50.0))
            builder.write(out, "long")
            _, peak = tracemalloc.get_traced_memory()
        finally:
            tracemalloc.stop()
        assert out.tell() > 180_000
    assert peak < 4 * 60_000


def test_bends_stand_at_least_one_tick_before_their_note() -> None:
    """The values of a note come first, also at tick 0, and nothing is closer than the tick before."""
    file = mido.MidiFile(file=io.BytesIO(build(performance())))
    now, bend_at, seen = 0, -1, 0
    for message in file.tracks[1]:
        now += message.time
        if message.type == "pitchwheel":
            bend_at = now
        if message.type == "note_on":
            assert 0 <= bend_at < now
            seen += 1
    assert seen == 3


def test_another_library_reads_the_same_notes_and_bends(tmp_path: Path) -> None:
    """Read by pretty_midi: notes within a tick and a half, and each bend within one step of what was played."""
    path = tmp_path / "performance.mid"
    path.write_bytes(build(performance()))
    (instrument,) = pretty_midi.PrettyMIDI(str(path)).instruments
    got = [(note.pitch, note.velocity) for note in instrument.notes]
    assert got == [(71, 96), (71, 96), (62, 96)]
    # After a rest there is room for the bend before the note, which then begins at its own tick.
    assert abs(instrument.notes[2].start - 1.25) <= 0.51 * TICK_S
    for note, (start_s, end_s) in zip(instrument.notes, [(0.0, 0.5), (0.5, 0.8), (1.25, 1.65)], strict=True):
        assert abs(note.start - start_s) <= 1.5 * TICK_S
        assert abs(note.end - end_s) <= 1.5 * TICK_S
    moved = [event for event in performance() if isinstance(event, Inflection | NoteOn)]
    for event in moved:
        bend_cents = event.inflection.bend_cents if isinstance(event, NoteOn) else event.bend_cents
        before = [bend.pitch for bend in instrument.pitch_bends if bend.time <= event.time_s + TICK_S]
        assert abs(before[-1] - bend_cents / 200.0 * 8192) <= 1.0


def test_a_third_library_reads_the_same_notes_and_bends(tmp_path: Path) -> None:
    """Read by music21: the same notes at the same quarters, and the same bends in the same order."""
    path = tmp_path / "performance.mid"
    path.write_bytes(build(performance()))
    file = music21.midi.MidiFile()
    file.open(str(path))
    file.read()
    file.close()
    score = music21.midi.translate.midiFileToStream(file, quantizePost=False)
    notes = [(note.pitch.midi, float(note.getOffsetInHierarchy(score))) for note in score.recurse().notes]
    assert [note for note, _ in notes] == [71, 71, 62]
    for (_, quarters), start_s in zip(notes, (0.0, 0.5, 1.25), strict=True):
        assert abs(quarters / 2.0 - start_s) <= 1.5 * TICK_S
    pitch_bend = music21.midi.ChannelVoiceMessages.PITCH_BEND
    bends = [event for event in file.tracks[1].events if event.type is pitch_bend]
    got = [cast("int", event.parameter1) + 128 * cast("int", event.parameter2) for event in bends]
    played = [
        8192 + (event.inflection.bend_cents if isinstance(event, NoteOn) else event.bend_cents) / 200.0 * 8192
        for event in performance()
        if isinstance(event, Inflection | NoteOn)
    ]
    kept = [round(value) for index, value in enumerate(played) if round(value) != round(played[index - 1])]
    assert len(got) == len(kept)
    assert all(abs(one - other) <= 1 for one, other in zip(got, kept, strict=True))


@settings(max_examples=50)
@given(any_events)
def test_any_events_give_a_file_in_which_every_on_has_its_off(events: list[Event]) -> None:
    """Read by mido: one note sounds at a time, none at the end, and ticks never go back."""
    file = mido.MidiFile(file=io.BytesIO(build(events, bend_range=12)))
    sounding: list[int] = []
    begun: list[int] = []
    for message in file.tracks[1]:
        assert message.time >= 0
        if message.type == "note_on":
            assert sounding == []
            sounding.append(message.note)
            begun.append(message.note)
        if message.type == "note_off":
            assert sounding == [message.note]
            sounding.clear()
    assert sounding == []
    assert begun == [event.midi_note for event in events if isinstance(event, NoteOn)]


#: On, inflection or off; how long after the last, s, on either side of a tick or back; bend and breath.
_near = st.tuples(
    st.sampled_from([note_on, inflection, note_off]),
    st.sampled_from([0.0, 0.0001, 0.0005, 0.001, 0.003, 1.0, -0.001, -0.5]),
    st.sampled_from([0.0, 10.0, -150.0]),
    st.sampled_from([0.5, 0.6]),
)


@settings(max_examples=300)
@given(
    st.lists(_near, max_size=25),
    st.sampled_from([None, Tempo(20.0, 0.0), Tempo(97.3, 3.3), Tempo(400.0, 1.0)]),
    st.booleans(),
)
def test_ticks_never_go_back_whatever_times_come(steps: list[Any], tempo: Tempo | None, mpe: bool) -> None:
    """Notes nearer than a tick, at one time, or earlier than the last; mido writes no file that goes back."""
    events: list[Event] = []
    time_s, note_id = 0.0, 0
    for make, passed_s, bend_cents, breath in steps:
        time_s = max(0.0, time_s + passed_s)
        note_id += make is note_on
        values = {} if make is note_off else {"bend_cents": bend_cents, "breath": breath}
        events.append(make(time_s, note_id, **values))
    with builder_of(events, mpe=mpe, tempo=tempo) as builder:
        builder.finish(time_s)
        data = written(builder, "near")
    begun = [m for m in mido.MidiFile(file=io.BytesIO(data)).tracks[1] if m.type == "note_on"]
    assert len(begun) == note_id


@settings(max_examples=50)
@given(
    any_events, st.sampled_from([None, Tempo(20.0, 0.0), Tempo(97.3, 3.3)]), st.booleans(), st.sampled_from(["", "é"])
)
def test_the_file_is_the_one_that_mido_writes_of_the_same_messages(
    events: list[Event], tempo: Tempo | None, mpe: bool, mark: str
) -> None:
    """Byte by byte: header, times, running status, lengths of the tracks; also in beats known only at the end."""
    with builder_of(events, 22, mpe=mpe, tempo=Tempo(120.0, 1.0)) as builder:
        builder.finish(1000.0)
        data = written(builder, "name", tempo, mark=mark)
        placed = list(builder._placed(MidiBeats(tempo or Tempo(120.0, 1.0))))
    name = mido.MetaMessage("track_name", name="name")
    texts = [mido.MetaMessage("text", text=mark)] if mark else []
    track, last = [name, *builder._opening], 0
    for tick, message in placed:
        # Program change and channel pressure are of two bytes (MIDI 1.0, table I).
        short = message[0] >> 4 in (0xC, 0xD)
        track.append(mido.Message.from_bytes(message[: 2 if short else 3], time=tick - last))
        last = tick
    conductor = [name, *texts, *MidiBeats(tempo or Tempo(120.0, 1.0)).messages()]
    by_mido = io.BytesIO()
    mido.MidiFile(type=1, ticks_per_beat=960, charset="utf-8", tracks=[conductor, track]).save(file=by_mido)
    assert data == by_mido.getvalue()


@pytest.mark.parametrize("minutes", [1, 60, 200])
def test_late_notes_do_not_drift(minutes: int) -> None:
    """Absolute ticks are rounded before differences are taken, so the error stays below a tick."""
    start_s = minutes * 60.0 + 0.123456
    steps: list[Event] = [inflection(0.0003 * step, bend_cents=float(step % 50)) for step in range(1, 5000)]
    events = [note_on(0.0), *steps, note_off(2.0), note_on(start_s, 2), note_off(start_s + 1.0, 2)]
    file = mido.MidiFile(file=io.BytesIO(build(events)))
    ticks = sum(message.time for message in file.tracks[1])
    assert abs(ticks * TICK_S - (start_s + 1.0)) <= TICK_S
