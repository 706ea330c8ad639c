"""Another harp in the middle of a performance: what ends, what goes on, and what counts from then on."""

from __future__ import annotations

from math import log2
from pathlib import Path

import mido
import pytest
import yaml

from bridge.base.commands import ChangeHarp, Command
from bridge.base.events import AudioBlock, Event, Inflection, NoteOff, NoteOn, Status
from bridge.base.records import decode
from bridge.send.pitch import SentPitch, sent_pitch
from bridge.wiring.chain import Chain
from bridge.wiring.harps import harp_set
from bridge.wiring.offline import transcribe_file
from bridge.wiring.on_harp import third_trouble
from bridge.wiring.settings import Settings, load_settings
from follow.tones import RATE, blocks_of, harmonic_tone
from wiring.harp_files import MINE, harp_file
from wiring.stand_ins import Ear, Orders, Tone, run

#: Draw 3 of the harp of the file: 1200 cents are an octave, MIDI note 57 its hole-1 blow (common practice, no source).
THIRD_HZ = 442.3 * 2.0 ** ((57 + 11 - 69) / 12 - 12.9 / 1200)
ROOT_HZ = 442.3 * 2.0 ** ((57 + 7 - 69) / 12 + 1.5 / 1200)


def _settings(tmp_path: Path, **flags: object) -> Settings:
    """A C harp, and as second one that of the file."""
    return load_settings(flags={"harp.harps": f"C, {harp_file(tmp_path)}, G", "capture.paced": False, **flags})


def _play(chain: Chain, hz: float, seconds: float = 0.4) -> None:
    start = round(chain.now_s * RATE)
    for block in blocks_of(harmonic_tone(hz, seconds), 128):
        chain.feed(AudioBlock(start + block.start, RATE, block.samples))


def _chain(settings: Settings) -> tuple[Chain, list[Event]]:
    chain = Chain(settings, RATE)
    events: list[Event] = []
    chain.add_player(events.append)
    return chain, events


def test_a_measured_straight_third_reads_as_straight(tmp_path: Path) -> None:
    """Its depth is 0.00 +/- 0.03 (3 cents), its lean +1; where only A4 is known the same is more than 0.1 deep."""
    chain, events = _chain(_settings(tmp_path))
    chain.change_harp("2")
    _play(chain, THIRD_HZ)
    last = [event for event in events if isinstance(event, Inflection)][-1]
    cents = 400.0 + last.bend_cents
    assert cents == pytest.approx(1200.0 * log2(THIRD_HZ / ROOT_HZ), abs=0.5)
    assert (chain.straight_cents - cents) / (chain.straight_cents - 300.0) == pytest.approx(0.0, abs=0.03)
    assert last.lean == pytest.approx(1.0, abs=0.03)
    assert last.blueness < 0.02
    plain, heard = _chain(load_settings(flags={"harp.key": "A", "harp.a4_hz": 442.3}))
    _play(plain, THIRD_HZ)
    without = [event for event in heard if isinstance(event, Inflection)][-1]
    assert -without.bend_cents / 100.0 > 0.1
    assert without.lean < 0.8


def test_breath_follows_the_harp(tmp_path: Path) -> None:
    """The same sound is more of the breath on the harp of a soft player than where nothing is known."""
    chain, events = _chain(_settings(tmp_path))
    breaths = []
    for place in ("2", "1"):
        chain.change_harp(place)
        _play(chain, 2.0 * ROOT_HZ)
        breaths.append([event for event in events if isinstance(event, Inflection)][-1].breath)
    level_db = -48.0 + 39.0 * breaths[1]
    assert breaths[0] == pytest.approx((level_db + 41.0) / 30.0, abs=0.02)


class _Tuned(Ear):
    """An output that notes how much of a tuning goes out with each end and beginning of a note."""

    def __init__(self, pitch: SentPitch) -> None:
        super().__init__()
        self.pitch = pitch
        self.sent: list[tuple[str, float]] = []

    def send(self, event: Event) -> None:
        """Note it."""
        super().send(event)
        if isinstance(event, NoteOn | NoteOff):
            self.sent.append((type(event).__name__, round(self.pitch.offset_cents, 2)))


@pytest.mark.parametrize("synth_pitch", ["played", "band"])
def test_the_sounding_note_ends_as_it_was_sent_and_the_next_one_is_tuned_anew(tmp_path: Path, synth_pitch: str) -> None:
    """Off comes with the tuning of the old harp, the next on with that of the new: 1200 * log2(442.3 / 440) and 1.5."""
    settings = _settings(tmp_path, **{"send.synth_pitch": synth_pitch})
    ear = _Tuned(sent_pitch(settings.send, 0.0))
    run(Tone(), ear, settings=settings, pitch=ear.pitch, inputs=[Orders({300: ChangeHarp("next")})])
    offset = round(1200.0 * log2(442.3 / 440.0) + 1.5, 2) if synth_pitch == "played" else 0.0
    assert ear.sent == [("NoteOn", 0.0), ("NoteOff", 0.0), ("NoteOn", offset), ("NoteOff", offset)]


def test_the_harp_in_hand_again_ends_nothing(tmp_path: Path) -> None:
    """Asked for once more, by place, key or as a neighbour of its own, it goes on; a wrong place is one line."""
    ear = Ear()
    said: list[str] = []
    orders: dict[int, Command] = {200: ChangeHarp("1"), 300: ChangeHarp("C"), 400: ChangeHarp("9")}
    run(Tone(), ear, settings=_settings(tmp_path), inputs=[Orders(orders)], notice=said.append)
    assert ear.notes == ["NoteOn", "NoteOff"]
    assert said == ["There is no harp 9: the set has 3."]


def test_the_status_says_which_harp_where_its_third_lies_and_its_a4(tmp_path: Path) -> None:
    """The meter is told at once, and a harp outside the set has no place."""

    class Meter:
        statuses: list[Status] = []  # noqa: RUF012 -- one of its kind

        def came(self, at_s: float) -> None:
            pass

        def show(self, data: bytes) -> bool:
            if isinstance(record := decode(data), Status):
                self.statuses.append(record)
            return True

        def poll_commands(self) -> list[Command]:
            return []

    orders: dict[int, Command] = {100: ChangeHarp("2"), 200: ChangeHarp("Bb")}
    run(Tone(), Ear(), settings=_settings(tmp_path), inputs=[Orders(orders)], displays=[Meter()])
    seen = list(dict.fromkeys((status.harp, status.place, status.a4_hz) for status in Meter.statuses))
    assert [(harp[:2], place, a4_hz) for harp, place, a4_hz in seen] == [
        ("C ", 1, 440.0),
        ("A ", 2, 442.3),
        ("Bb", 0, 440.0),
    ]
    thirds = {status.place: status.straight for status in Meter.statuses}
    assert thirds == {1: 400.0, 2: pytest.approx(385.6), 0: 400.0}
    changed = next(status for status in Meter.statuses if status.place == 2)
    assert changed.time_s == pytest.approx(100 * 128 / RATE, abs=0.005)


def test_a_take_holds_each_harp_as_it_was(tmp_path: Path) -> None:
    """What was measured, from which moment on; the MIDI file bends by the tuning of the harp that sounds."""
    settings = _settings(tmp_path)
    report = run(Tone(), Ear(), settings=settings, take=tmp_path, inputs=[Orders({400: ChangeHarp("2")})])
    assert report.folder is not None
    assert report.complete
    kept = yaml.safe_load((report.folder / "take.yaml").read_text(encoding="utf-8"))
    assert (kept["harp"]["key"], kept["harp"]["straight_third_cents"]) == ("C", 400.0)
    (change,) = kept["harp_changes"]
    assert (change["key"], change["a4_hz"], change["reeds"]["draw 2"]) == ("A", 442.3, {"offset_cents": 1.5})
    bends, sounding = [], 0.0
    for message in mido.MidiFile(report.folder / "performance.mid"):
        if message.type == "pitchwheel":
            sounding = message.pitch / 8192.0 * 200.0
        elif message.type == "note_on":
            bends.append((message.note, sounding))
    # The tone is a B4 of 493.88 Hz (equal temperament), and goes out as that on either harp.
    assert [note + cents / 100.0 for note, cents in bends] == pytest.approx([71.0, 71.0], abs=0.1)
    assert bends[0][0] == bends[1][0] == 71


def test_a_recording_is_heard_as_the_harp_of_the_file(tmp_path: Path) -> None:
    """The take says so, and so does the report."""
    import soundfile

    soundfile.write(tmp_path / "third.wav", harmonic_tone(THIRD_HZ, 0.5), RATE)
    settings = load_settings(flags={"harp.file": harp_file(tmp_path)})
    report = transcribe_file(tmp_path / "third.wav", tmp_path / "takes", settings)
    assert report.harp == "A harp, cross position, as in mine.yaml"
    kept = yaml.safe_load((report.folder / "take.yaml").read_text(encoding="utf-8"))
    assert kept["harp"]["file"] == str(tmp_path / "mine.yaml")
    assert kept["harp"]["breath"]["hard_db"] == -14.0
    (row,) = (report.folder / "notes.csv").read_text(encoding="utf-8").splitlines()[1:]
    assert row.split(",")[4] == "3"
    assert row.split(",")[6:8] == ["3", "draw"]


def test_a_third_that_cannot_be_used_is_told_once(tmp_path: Path) -> None:
    """A reed 40 cents flat would lie in the blue zone: 400 stands for it, in one line that says what to do."""
    flat = harp_file(tmp_path, text=MINE.replace("-12.9", "-40.0"))
    settings = load_settings(flags={"harp.harps": f"C,{flat}", "capture.paced": False})
    said: list[str] = []
    orders: dict[int, Command] = {100: ChangeHarp("2"), 200: ChangeHarp("1"), 300: ChangeHarp("2")}
    run(Tone(), Ear(), settings=settings, inputs=[Orders(orders)], notice=said.append)
    (line,) = said
    assert "A harp, cross position, as in mine.yaml lies 358 cents above its root" in line
    assert "It is taken to lie at 400" in line
    numbered = load_settings(flags={"harp.file": flat, "quantise.third.straight": 390})
    assert third_trouble(numbered, harp_set(numbered.harp).harps[0]) is None
