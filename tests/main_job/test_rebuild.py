"""A sampled harmonica from recording to tables to a rebuilt MIDI file, read by two other libraries and by a synth.

Bends are read as the standard says (MIDI 1.0, 4.2.1): 8192 steps each way over the range that RPN 0 set. The synth is
fluidsynth with program 81 of General MIDI Level 1, counted from 1, and what it sings is measured by Praat.
"""

from __future__ import annotations

import subprocess
from collections import defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import music21
import numpy as np
import pretty_midi
import pytest
import soundfile
import yaml

from bridge.base.units import midi_to_hz
from bridge.takes.edited import EditedNote
from bridge.wiring.offline import transcribe_file
from bridge.wiring.opening import OpenedTake, opened_take
from bridge.wiring.rebuilding import rebuild_take
from bridge.wiring.settings import load_settings
from main_job.command import reedwire
from main_job.take_files import read_curve
from parts import require
from sounds.praat import praat_curve
from sounds.sampled import sampled

RATE = 48000
LEAD = 80
ROOT_MIDI = 67
TICK_S = 1 / 1920
#: Half of what musicians just notice: 10 cents (Arndt et al. 2020).
MOST_CENTS = 5.0
#: The attack of the voice and its release are not scored, s.
HEAD_S, END_S = 0.06, 0.03
#: The voice would answer pressure with a vibrato of its own (SoundFont 2.04, 8.4.7): MPE with the breath's controller.
WAYS = {"one channel": (False, ["send.midi.bend_range=12"]), "MPE": (True, ["send.midi.mpe_breath=controller"])}


def transcribed(score: str, folder: Path, *sets: str) -> Path:
    """The take of a sampled score."""
    sound = sampled(score)
    soundfile.write(folder / "played.wav", sound.samples, sound.rate, subtype="PCM_24")
    settings = load_settings(None, [f"takes.midi_program={LEAD}", *sets])
    return transcribe_file(folder / "played.wav", folder, settings).folder


@pytest.mark.parametrize("score", ["blue thirds", "vibrato", "phrase"])
def test_breakpoints_keep_within_three_cents_with_a_tenth_of_the_numbers(
    tmp_path: Path, score: str, record_property: Callable[[str, object], None]
) -> None:
    """At every frame of the curve inside a note; a row of either table is as many numbers: time, pitch, loudness."""
    folder = transcribed(score, tmp_path)
    curve, take = read_curve(folder), opened_take(folder, pytest.fail)
    points = frames = 0
    most_cents = 0.0
    for note in take.notes:
        inside = (curve.time_s >= note.start_s + note.points[0].at_s - 1e-5) & (curve.hz > 0.0)
        inside &= curve.time_s <= note.start_s + note.points[-1].at_s + 1e-5
        table = np.array([note.at(time_s - note.start_s).bend_cents for time_s in curve.time_s[inside]])
        off = np.abs(curve.cents[inside] - 100.0 * (note.midi_note - ROOT_MIDI) - table)
        most_cents = max(most_cents, float(np.max(off)))
        points, frames = points + len(note.points), frames + int(np.count_nonzero(inside))
    record_property("farthest from the frames, cents; fewer by", (round(most_cents, 2), round(frames / points, 1)))
    # The curve's cents and the table's have two decimals each, its times five.
    assert most_cents <= 3.0 + 0.05
    assert frames >= 10 * points


@pytest.fixture(scope="module", params=WAYS)
def rebuilt(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> OpenedTake:
    """The blue thirds, rebuilt from their tables in both ways."""
    mpe, sets = WAYS[request.param]
    folder = transcribed("blue thirds", tmp_path_factory.mktemp("take"), *sets)
    # Without it the file follows the breakpoints although nothing in them is edited.
    (folder / "played" / "performance.mid").unlink()
    rebuild_take(folder, pytest.fail, mpe=mpe)
    return opened_take(folder, pytest.fail)


def corners(note: EditedNote) -> Iterator[tuple[float, float]]:
    """Times in the take and cents of the breakpoints inside a note, its very end left out."""
    for point in note.points:
        if point.at_s < note.length_s - 2 * TICK_S:
            yield note.start_s + point.at_s, point.bend_cents


def in_force(bends: list[tuple[float, float]], time_s: float) -> list[float]:
    """What was in force within a tick of a time; ``bends`` are pairs of seconds and cents in order."""
    before = [cents for at_s, cents in bends if at_s <= time_s - TICK_S]
    around = [cents for at_s, cents in bends if abs(at_s - time_s) < TICK_S + 1e-6]
    return [*before[-1:], *around]


def range_cents(take: OpenedTake) -> float:
    """The bend range that the file says, as pretty_midi reads it."""
    file = pretty_midi.PrettyMIDI(str(take.folder.midi))
    said = {change.value for one in file.instruments for change in one.control_changes if change.number == 6}
    # The zone itself (RPN 6) says the number of its channels on a channel without notes, which is no instrument here.
    return 100.0 * float(max(said))


def is_as_in_the_table(take: OpenedTake, read: list[tuple[int, float, list[tuple[float, float]]]]) -> bool:
    """Whether each note was read at its place, with each breakpoint to a step; notes are number, start and bends."""
    step = range_cents(take) / 8192
    assert [number for number, _, _ in read] == [note.midi_note for note in take.notes]
    for note, (_, start_s, bends) in zip(take.notes, read, strict=True):
        assert start_s == pytest.approx(note.start_s, abs=1.6 * TICK_S)
        for time_s, cents in corners(note):
            assert min(abs(cents - value) for value in in_force(bends, time_s)) <= step
    return True


def test_pretty_midi_reads_the_bends_of_the_table(rebuilt: OpenedTake) -> None:
    """Channel by channel."""
    read, step = [], range_cents(rebuilt) / 8192
    for instrument in pretty_midi.PrettyMIDI(str(rebuilt.folder.midi)).instruments:
        bends = [(bend.time, bend.pitch * step) for bend in instrument.pitch_bends]
        read += [(note.pitch, note.start, bends) for note in instrument.notes]
    assert is_as_in_the_table(rebuilt, sorted(read, key=lambda one: one[1]))


def test_music21_reads_the_bends_of_the_table(rebuilt: OpenedTake) -> None:
    """Event by event, ticks counted here."""
    file = music21.midi.MidiFile()
    file.open(str(rebuilt.folder.midi))
    file.read()
    file.close()
    kinds, step = music21.midi.ChannelVoiceMessages, range_cents(rebuilt) / 8192
    bends: dict[int, list[tuple[float, float]]] = defaultdict(list)
    begun: list[tuple[int, float, int]] = []
    for track in file.tracks:
        tick = 0
        for event in track.events:
            one: Any = event
            if one.isDeltaTime():
                tick += one.time
            elif one.type == kinds.PITCH_BEND:
                value = one.parameter1 + 128 * one.parameter2 - 8192
                bends[one.channel].append((tick * TICK_S, value * step))
            elif one.isNoteOn():
                begun.append((one.pitch, tick * TICK_S, one.channel))
    assert is_as_in_the_table(rebuilt, [(number, start_s, bends[channel]) for number, start_s, channel in begun])


def test_fluidsynth_sings_the_curves_of_the_table(
    rebuilt: OpenedTake, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    """Praat's pitch of the synth is within 5 cents of the table at the 95th percentile, each key's own offset apart."""
    command = [require("fluidsynth"), "-q", "-ni", "-R", "0", "-C", "0", "-g", "0.6", "-r", str(RATE), "-z", "64"]
    command += ["-T", "wav", "-O", "float", "-F", str(tmp_path / "out.wav"), require("soundfont")]
    subprocess.run([*command, str(rebuilt.folder.midi)], check=True, capture_output=True, timeout=120)
    samples, _ = soundfile.read(tmp_path / "out.wav", dtype="float32", always_2d=True)
    off: dict[int, list[float]] = defaultdict(list)
    for note in rebuilt.notes:
        first, last = round((note.start_s - 0.05) * RATE), round((note.end_s + 0.1) * RATE)
        centre = midi_to_hz(note.midi_note)
        times, heard = praat_curve(samples[max(0, first) : last, 0], RATE, centre / 1.3, centre * 1.3)
        at_s = times + max(0, first) / RATE - note.start_s
        inside = (heard > 0.0) & (at_s > HEAD_S) & (at_s < note.length_s - END_S)
        table = np.array([note.at(moment).bend_cents for moment in at_s[inside]])
        off[note.midi_note] += list(1200.0 * np.log2(heard[inside] / centre) - table)
    own = {key: float(np.median(found)) for key, found in off.items()}
    assert max(map(abs, own.values())) < 6.0
    every = np.concatenate([np.abs(np.array(found) - own[key]) for key, found in off.items()])
    assert len(every) > 500
    off_by = float(np.percentile(every, 95))
    record_property("off, cents", round(off_by, 2))
    assert off_by <= MOST_CENTS


def test_the_real_commands_go_round(tmp_path: Path) -> None:
    """Transcribe, rebuild, and back from the MIDI file: the tables are those of the transcription, byte for byte."""
    folder = transcribed("phrase", tmp_path)
    tables = {name: (folder / name).read_bytes() for name in ("notes.csv", "inflections.csv")}
    for words in ((), ("--mpe",), ()):
        assert reedwire("rebuild", folder, *words).status == 0
        back = reedwire("rebuild", folder, "--from", folder / "performance.mid", *words)
        assert (back.status, back.err) == (0, "")
        assert "no note differs from the tables" in back.out
        assert {name: (folder / name).read_bytes() for name in tables} == tables


@pytest.mark.parametrize(
    "said", [["takes.tempo=96"], ["takes.tempo=50", "takes.bar_1_s=1.1", "takes.quarters_in_bar=3"]]
)
def test_the_midi_file_as_played_has_the_tempo_that_is_known(tmp_path: Path, said: list[str]) -> None:
    """That of take.yaml, read by pretty_midi; a rebuild has nothing to add to it and leaves it as it was played."""
    folder = transcribed("phrase", tmp_path, *said)
    told = yaml.safe_load((folder / "take.yaml").read_text(encoding="utf-8"))["tempo"]
    played = (folder / "performance.mid").read_bytes()
    file = pretty_midi.PrettyMIDI(str(folder / "performance.mid"))
    times, tempos = file.get_tempo_changes()
    assert tempos[-1] == pytest.approx(told["quarters_per_minute"], abs=0.01)
    bar_s = told["quarters_in_bar"] * 60.0 / told["quarters_per_minute"]
    assert times[-1] == pytest.approx(told["bar_1_s"] % bar_s, abs=0.001)
    assert min(abs(at - told["bar_1_s"]) for at in file.get_downbeats()) < 0.001
    notes = opened_take(folder, pytest.fail).notes
    starts = [note.start for note in sorted(file.instruments[0].notes, key=lambda note: note.start)]
    assert starts == pytest.approx([note.start_s for note in notes], abs=2.0 * 60.0 / tempos[-1] / 960)
    assert rebuild_take(folder, pytest.fail).as_played
    assert (folder / "performance.mid").read_bytes() == played
