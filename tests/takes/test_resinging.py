"""Sound with moved, shorter, longer, removed and added notes, on tones that are known sample by sample."""

from __future__ import annotations

import resource
import subprocess
import sys
import tracemalloc
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from bridge.base.errors import SoundError
from bridge.takes.edited import Breakpoint, EditedNote
from bridge.takes.resinging import BREATH_DB, Resung, resing
from follow.tones import RATE, harmonic_tone
from sounds.praat import settled_hz

Floats = NDArray[np.float64]
#: Three notes with a rest before, between and behind them: start and length in seconds, MIDI note.
PLACES = ((0.5, 0.6, 69), (1.5, 0.6, 71), (2.5, 0.6, 74))
LENGTH_S = 3.5


def note(number: int, start_s: float, length_s: float, midi: int) -> EditedNote:
    """A note that is held, without a bend, at half breath."""
    points = tuple(Breakpoint(at, 0.0, 0.5) for at in (0.0, length_s))
    return EditedNote(number, start_s, length_s, midi, "1", 96, None, "", "", None, "", points)


PLAYED = tuple(note(number, *place) for number, place in enumerate(PLACES, start=1))


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The three notes as tones in a room with a little noise, 24 bits."""
    path = tmp_path_factory.mktemp("sound") / "sound.wav"
    soundfile.write(path, tones(LENGTH_S), RATE, subtype="PCM_24")
    return path


def tones(seconds: float) -> Floats:
    """The three notes again and again."""
    samples = 1e-4 * np.random.default_rng(2).standard_normal(round(LENGTH_S * RATE))
    for start_s, length_s, midi in PLACES:
        tone = harmonic_tone(440.0 * 2.0 ** ((midi - 69) / 12), length_s)
        fade = np.minimum(1.0, np.minimum(np.arange(len(tone)), np.arange(len(tone))[::-1]) / (0.01 * RATE))
        samples[round(start_s * RATE) :][: len(tone)] += tone * fade
    return np.tile(samples, -(-round(seconds * RATE) // len(samples)))[: round(seconds * RATE)]


def sung(sound: Path, wanted: tuple[EditedNote, ...], out: Path) -> tuple[Floats, Floats, Resung]:
    """The sound before and after, and what was told."""
    report = resing(sound, out, PLAYED, wanted)
    return np.asarray(soundfile.read(sound)[0]), np.asarray(soundfile.read(out)[0]), report


def part(samples: Floats, from_s: float, to_s: float) -> Floats:
    """The samples between two moments."""
    return samples[round(from_s * RATE) : round(to_s * RATE)]


def with_second(**changes: float) -> tuple[EditedNote, ...]:
    """The notes with the second one changed."""
    return PLAYED[0], replace(PLAYED[1], **changes), PLAYED[2]  # type: ignore[arg-type]


def test_without_an_edit_the_sound_is_the_same_file(sound: Path, tmp_path: Path) -> None:
    """Every sample, and the kind of file; progress ends at 1."""
    told: list[float] = []
    report = resing(sound, tmp_path / "resung.wav", PLAYED, PLAYED, progress=told.append)
    assert np.array_equal(soundfile.read(sound)[0], soundfile.read(tmp_path / "resung.wav")[0])
    assert report == Resung(0, 0.0, (), 0)
    assert told[-1] == 1.0
    assert [path.name for path in tmp_path.iterdir()] == ["resung.wav"]


def test_a_moved_note_is_the_same_sound_elsewhere(sound: Path, tmp_path: Path) -> None:
    """Sample for sample but for its fades; where it was is silence, its neighbours are untouched."""
    before, after, report = sung(sound, with_second(start_s=1.7), tmp_path / "resung.wav")
    assert np.array_equal(part(after, 1.7, 2.3), part(before, 1.5, 2.1))
    assert not part(after, 1.5, 1.67).any()
    for from_s, to_s in ((0.0, 1.47), (2.48, LENGTH_S)):
        assert np.array_equal(part(after, from_s, to_s), part(before, from_s, to_s))
    assert report.stretches == 1


def test_a_note_moved_behind_the_end_makes_the_sound_longer(sound: Path, tmp_path: Path) -> None:
    """The last note, half a second later than the sound ends, is there as a whole, behind silence."""
    wanted = (*PLAYED[:2], replace(PLAYED[2], start_s=4.0))
    before, after, _ = sung(sound, wanted, tmp_path / "resung.wav")
    assert len(after) >= 4.6 * RATE
    assert np.array_equal(part(after, 4.0, 4.6), part(before, 2.5, 3.1))
    assert not part(after, LENGTH_S, 3.95).any()


def test_a_shorter_note_is_cut_off_softly(sound: Path, tmp_path: Path) -> None:
    """What is left is the player's own, then it fades within 4 ms, and silence follows to the end of the old note."""
    before, after, _ = sung(sound, with_second(length_s=0.3), tmp_path / "resung.wav")
    assert np.array_equal(part(after, 0.0, 1.8), part(before, 0.0, 1.8))
    assert not part(after, 1.805, 2.09).any()
    near = slice(round(1.79 * RATE), round(1.81 * RATE))
    assert np.abs(np.diff(after[near])).max() <= 1.05 * np.abs(np.diff(before[near])).max()
    assert np.array_equal(part(after, 2.2, LENGTH_S), part(before, 2.2, LENGTH_S))


def test_a_note_taken_out_leaves_silence(sound: Path, tmp_path: Path) -> None:
    """And nothing else is touched."""
    before, after, _ = sung(sound, (PLAYED[0], PLAYED[2]), tmp_path / "resung.wav")
    assert not part(after, 1.49, 2.1).any()
    for from_s, to_s in ((0.0, 1.47), (2.2, LENGTH_S)):
        assert np.array_equal(part(after, from_s, to_s), part(before, from_s, to_s))


def test_a_longer_note_is_held_at_its_pitch_and_level(sound: Path, tmp_path: Path) -> None:
    """0.3 s longer: Praat hears the same pitch to its new end, as loud as before."""
    before, after, _ = sung(sound, with_second(length_s=0.9), tmp_path / "resung.wav")
    hz = 440.0 * 2.0 ** (2 / 12)
    held = settled_hz(after.astype(np.float32), RATE, 1.6, 2.38, 300.0, 700.0)
    assert abs(1200.0 * np.log2(held / hz)) < 2.0
    levels = [
        np.sqrt(np.mean(part(samples, *span) ** 2)) for samples, span in ((before, (1.6, 2.0)), (after, (1.6, 2.3)))
    ]
    assert abs(20.0 * np.log10(levels[1] / levels[0])) < 0.2
    assert np.array_equal(part(after, 0.0, 1.47), part(before, 0.0, 1.47))


def test_an_added_note_is_told(sound: Path, tmp_path: Path) -> None:
    """Nobody has played it: the sound stays as it is."""
    before, after, report = sung(sound, (*PLAYED, note(9, 2.2, 0.2, 69)), tmp_path / "resung.wav")
    assert report.unsung == (9,)
    assert np.array_equal(after, before)


def test_an_edited_breath_is_another_level(sound: Path, tmp_path: Path) -> None:
    """From half to a quarter of the breath over a note: so much of the span between soft and hard playing, in dB."""
    points = (Breakpoint(0.0, 0.0, 0.5), Breakpoint(0.6, 0.0, 0.25))
    wanted = (PLAYED[0], replace(PLAYED[1], points=points), PLAYED[2])
    before, after, _ = sung(sound, wanted, tmp_path / "resung.wav")
    powers = [np.mean(part(samples, 1.79, 1.81) ** 2) for samples in (before, after)]
    assert 10.0 * np.log10(powers[1] / powers[0]) == pytest.approx(-0.125 * BREATH_DB, abs=0.2)
    assert np.array_equal(part(after, 2.2, LENGTH_S), part(before, 2.2, LENGTH_S))


def test_what_has_no_pitch_sounds_as_it_was_played(tmp_path: Path) -> None:
    """A note in the tables where there is only silence: it is counted, nothing breaks."""
    path = tmp_path / "sound.wav"
    soundfile.write(path, np.zeros(round(LENGTH_S * RATE)), RATE, subtype="PCM_24")
    _, after, report = sung(path, with_second(midi_note=72), tmp_path / "resung.wav")
    assert report.unheard == 1
    assert not after.any()


def test_another_a4_is_the_pitch_of_all_notes(sound: Path, tmp_path: Path) -> None:
    """With the A4 of the harp given, for the whole take or moment by moment, the tables are read by it."""
    for a4_hz in (443.0, lambda _: 443.0):
        resing(sound, tmp_path / "resung.wav", PLAYED, with_second(midi_note=72), a4_hz=a4_hz)
        after = np.asarray(soundfile.read(tmp_path / "resung.wav")[0], np.float32)
        heard = settled_hz(after, RATE, 1.6, 2.05, 400.0, 700.0)
        assert abs(1200.0 * np.log2(heard / (443.0 * 2.0 ** (3 / 12)))) < 2.0


_STARTS, _LENGTHS = st.floats(0.0, 3.4), st.floats(0.01, 2.0)
_EDITS = st.tuples(_STARTS, _LENGTHS, st.integers(60, 80), st.floats(0.0, 1.0))


@settings(deadline=None, max_examples=25)
@given(st.lists(_EDITS, max_size=4), st.booleans())
def test_any_edit_gives_a_whole_sound(
    sound: Path, tmp_path_factory: pytest.TempPathFactory, edits: list[tuple[float, float, int, float]], kept: bool
) -> None:
    """Notes anywhere, over each other, of any length: finite samples, no fewer, an untouched first note whole."""
    wanted = [PLAYED[0]] if kept else []
    for number, (start_s, length_s, midi, breath) in enumerate(edits, start=2):
        made = note(number, start_s + (1.3 if kept else 0.0), length_s, midi)
        wanted.append(replace(made, points=tuple(replace(point, breath=breath) for point in made.points)))
    before, after, report = sung(sound, tuple(wanted), tmp_path_factory.mktemp("any") / "resung.wav")
    assert len(after) >= len(before)
    assert np.isfinite(after).all()
    assert set(report.unsung) == {it.id for it in wanted} - {1, 2, 3}
    if kept:
        assert np.array_equal(part(after, 0.0, 1.2), part(before, 0.0, 1.2))


def test_an_error_leaves_the_file_that_was_there(sound: Path, tmp_path: Path) -> None:
    """A sound that is missing, a folder that is missing, a fault in the middle: what was there stays, and only that."""
    out = tmp_path / "resung.wav"
    out.write_text("the one before", encoding="utf-8")
    with pytest.raises(SoundError, match="cannot be read"):
        resing(tmp_path / "none.wav", out, PLAYED, PLAYED)
    with pytest.raises(FileNotFoundError):
        resing(sound, tmp_path / "none" / "resung.wav", PLAYED, PLAYED)

    def stop(_: float) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        resing(sound, out, PLAYED, PLAYED, progress=stop)
    assert out.read_text(encoding="utf-8") == "the one before"
    assert [path.name for path in tmp_path.iterdir()] == ["resung.wav"]


_ON_A_FULL_DISK = """
import resource, sys
from pathlib import Path
from bridge.takes.resinging import resing
resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
try:
    resing(Path(sys.argv[1]), Path(sys.argv[2]), (), ())
except OSError as error:
    print(error.strerror)
"""


def test_a_disk_that_is_full_is_told(sound: Path, tmp_path: Path) -> None:
    """A process that may write no more than 100 kB to a file, as on a full disk: an OSError with why, nothing left."""
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[1] == resource.RLIM_INFINITY
    command = [sys.executable, "-c", _ON_A_FULL_DISK, str(sound), str(tmp_path / "resung.wav")]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=100)
    assert "No space left on device" in done.stdout
    assert done.returncode == 0
    assert not list(tmp_path.iterdir())


def test_a_longer_take_needs_no_more_memory(tmp_path: Path) -> None:
    """Of numpy's memory four times the sound, every note of it sung, takes less than 2 MB more at its peak."""
    peaks = []
    for seconds in (LENGTH_S * 8, LENGTH_S * 32):
        path = tmp_path / f"{seconds}.wav"
        soundfile.write(path, tones(seconds), RATE, subtype="PCM_24")
        starts = [
            phrase * LENGTH_S + start_s for phrase in range(round(seconds / LENGTH_S)) for start_s, _, _ in PLACES
        ]
        played = [note(number, start_s, 0.6, 71) for number, start_s in enumerate(starts)]
        # Longer by so much that each touches the next: the sound is one stretch from its first note to its last.
        ends = [*starts[1:], starts[-1] + 1.0]
        wanted = [replace(it, length_s=end_s - it.start_s) for it, end_s in zip(played, ends, strict=True)]
        tracemalloc.start()
        try:
            resing(path, tmp_path / "resung.wav", played, wanted)
            peaks.append(tracemalloc.get_traced_memory()[1])
        finally:
            tracemalloc.stop()
    assert peaks[1] < peaks[0] + 2_000_000
