"""A sampled performance through ``reedwire transcribe``: the score that music21 reads is what was written.

The truth is the score that was played, in beats; how blues is written is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest
import soundfile
import yaml

from main_job.command import reedwire
from sounds.known import Bend
from sounds.sampled import play_score
from sounds.scores import BLOW, DRAW, HELD, THIRD, ScoreNote
from takes.musicxml_schema import faults
from takes.score_reading import Read, read

PACE, BAR_1_S = 96.0, 0.5
QUARTER_S = 60.0 / PACE
#: A tick of the grid, in quarters.
TICK = 1 / 48


@dataclass(frozen=True)
class Beat:
    """A note in quarters from bar 1, how it is played, and the heads that write it: quarters, name, tab."""

    at: float
    length: float
    midi: int
    hole: int
    air: str
    heads: tuple[tuple[float, str, str], ...]
    bend: Bend = HELD


#: Half a quarter of the minor third before it is let go, a quarter tone held, vibrato, swing and a triplet. Made up.
RELEASED = Bend(((0.55, -100.0), (0.7, 0.0)))
PHRASE = (
    Beat(0.0, 1.0, DRAW[1], 2, "draw", ((1.0, "G", "-2?"),)),
    Beat(1.0, 2.0, THIRD, 3, "draw", ((1.0, "B-", "-3'"), (1.0, "B", "-3")), RELEASED),
    Beat(3.0, 2 / 3, DRAW[3], 4, "draw", ((2 / 3, "D", "-4"),)),
    Beat(3 + 2 / 3, 1 / 3, BLOW[3], 4, "blow", ((1 / 3, "C", "+4"),)),
    Beat(4.0, 1.0, THIRD, 3, "draw", ((1.0, "B`", "-3"),), Bend(((0.0, -46.0),))),
    Beat(5.0, 1.0, DRAW[1], 2, "draw", ((1.0, "G", "-2?"),)),
    Beat(6.0, 1 / 3, BLOW[3], 4, "blow", ((1 / 3, "C", "+4"),)),
    Beat(6 + 1 / 3, 1 / 3, THIRD, 3, "draw", ((1 / 3, "B", "-3"),)),
    Beat(6 + 2 / 3, 1 / 3, DRAW[1], 2, "draw", ((1 / 3, "G", "-2?"),)),
    Beat(7.0, 1.0, DRAW[0], 1, "draw", ((1.0, "D", "-1"),)),
    Beat(8.0, 2.0, DRAW[3], 4, "draw", ((2.0, "D", "-4"),), Bend(vibrato_cents=40.0, vibrato_from_s=0.2)),
    Beat(11.0, 1.0, THIRD, 3, "draw", ((1.0, "B-", "-3'"),), Bend(((0.0, -100.0),))),
    Beat(12.0, 1.0, DRAW[1], 2, "draw", ((1.0, "G", "-2?"),)),
)


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The phrase on a sampled C harp, each note let go a little before the next."""
    score = tuple(
        ScoreNote(BAR_1_S + QUARTER_S * one.at, 0.9 * QUARTER_S * one.length, one.midi, one.bend, one.hole, one.air)
        for one in PHRASE
    )
    sound = play_score(score, "phrase in time")
    path = tmp_path_factory.mktemp("phrase") / "phrase.wav"
    soundfile.write(path, sound.samples, sound.rate, subtype="PCM_24")
    return path


def transcribed(recording: Path, out: Path, *options: str) -> Path:
    """The take that the command makes."""
    said = reedwire("transcribe", recording, "--out", out, "--harp", "C", *options)
    assert (said.status, said.complaints, said.accidents) == (0, [], []), said
    return out / "phrase"


def wanted(tempo_known: float) -> list[tuple[float, float, str, str]]:
    """Start and length in quarters, name and tab of every head, those of a note one after the other."""
    found = []
    for one in PHRASE:
        at = one.at
        for length, name, tab in one.heads:
            found.append((at + tempo_known, length, name, tab))
            at += length
    return found


def told(heads: list[Read]) -> list[tuple[float, float, str, str]]:
    """The same of a score that was read."""
    return [(head.at, head.length, head.name, head.lyric) for head in heads]


def test_the_score_is_what_was_played(recording: Path, tmp_path: Path) -> None:
    """Valid; pitch, start and length of every note on the grid, the half flat third, one slide, and the tab."""
    take = transcribed(recording, tmp_path, "--tempo", str(PACE), "--bar-1", str(BAR_1_S))
    data = (take / "score.musicxml").read_bytes()
    assert faults(data) == []
    heads = read(data)
    assert [(name, tab) for *_, name, tab in told(heads)] == [(name, tab) for *_, name, tab in wanted(0.0)]
    for (at, length, *_), (wanted_at, wanted_length, *_) in zip(told(heads), wanted(0.0), strict=True):
        assert (at, length) == pytest.approx((wanted_at, wanted_length), abs=TICK)
    assert [head.slid_into for head in heads].count(True) == 1
    assert heads[2].slid_into
    facts = yaml.safe_load((take / "take.yaml").read_text(encoding="utf-8"))["tempo"]
    assert facts == {"quarters_per_minute": 96.0, "bar_1_s": 0.5, "quarters_in_bar": 4, "known_from": "option"}


def test_the_tempo_can_be_estimated(recording: Path, tmp_path: Path) -> None:
    """``--tempo auto`` finds 96, bar 1 at the first note, and says how sure it is; the rhythm is the same."""
    take = transcribed(recording, tmp_path, "--tempo", "auto")
    facts = yaml.safe_load((take / "take.yaml").read_text(encoding="utf-8"))["tempo"]
    assert facts["known_from"] == "estimate"
    assert facts["quarters_per_minute"] == pytest.approx(PACE, abs=1.5)
    assert facts["bar_1_s"] == pytest.approx(BAR_1_S, abs=0.04)
    assert 0.6 <= facts["sure"] <= 1.0
    starts = [head.at for head in read((take / "score.musicxml").read_bytes())]
    assert starts == pytest.approx([at for at, *_ in wanted(0.0)], abs=TICK)


def test_without_a_tempo_it_is_clock_time(recording: Path, tmp_path: Path) -> None:
    """A quarter is half a second from the beginning of the recording; the notes are the same."""
    take = transcribed(recording, tmp_path)
    data = (take / "score.musicxml").read_bytes()
    assert faults(data) == []
    assert b"no tempo known" in data
    heads = read(data)
    assert [head.name for head in heads] == [name for *_, name, _ in wanted(0.0)]
    begun = [head.at / 2.0 for head in heads if not head.slid_into]
    assert begun == pytest.approx([BAR_1_S + QUARTER_S * one.at for one in PHRASE], abs=0.06)


def test_rebuild_makes_the_same_score_and_follows_an_edited_tempo(recording: Path, tmp_path: Path) -> None:
    """Nothing edited: byte for byte; at half the tempo every value is half as long."""
    take = transcribed(recording, tmp_path, "--tempo", str(PACE), "--bar-1", str(BAR_1_S))
    path = take / "score.musicxml"
    before = path.read_bytes()
    path.unlink()
    said = reedwire("rebuild", take)
    assert (said.status, said.complaints, said.accidents) == (0, [], []), said
    assert path.read_bytes() == before
    text = (take / "take.yaml").read_text(encoding="utf-8")
    (take / "take.yaml").write_text(
        text.replace("quarters_per_minute: 96.0", "quarters_per_minute: 48.0"), encoding="utf-8"
    )
    assert reedwire("rebuild", take).status == 0
    starts = [head.at for head in read(path.read_bytes()) if not head.slid_into]
    assert starts == pytest.approx([one.at / 2.0 for one in PHRASE], abs=TICK)


def test_a_tempo_that_is_none_is_refused(recording: Path, tmp_path: Path) -> None:
    """What was found, what is allowed, and no take."""
    said = reedwire("transcribe", recording, "--out", tmp_path, "--harp", "C", "--tempo", "brisk")
    assert said.status == 2
    assert "takes.tempo" in said.err
    assert "brisk" in said.err
    assert said.accidents == []
