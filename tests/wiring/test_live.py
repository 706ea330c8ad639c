"""The live performance with stand-ins for sound card and outputs."""

from __future__ import annotations

import json
import shutil
import signal
from pathlib import Path
from typing import cast

import numpy as np
import pytest

from bridge.base.commands import Arm, ChangeHarp, Command, Panic, Stop
from bridge.base.events import AudioBlock
from bridge.send.output import Outputs
from bridge.takes.take_yaml import read_take_yaml
from bridge.wiring.live import run_live
from follow.tones import RATE, harmonic_tone
from wiring.stand_ins import SETTINGS, Ear, Orders, Tone, run


def test_it_ends_with_the_sound() -> None:
    """A source that ends ends the performance: one note on, one off, everything closed."""
    source, ear = Tone(), Ear()
    report = run(source, ear)
    assert ear.notes == ["NoteOn", "NoteOff"]
    assert ear.closed
    assert source.closed
    assert report.notes == 1
    assert report.seconds == pytest.approx(2.0, abs=0.01)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT])
def test_a_signal_ends_it_in_good_order(number: signal.Signals) -> None:
    """Whichever it is, the note ends before anything closes, and the old handlers are back afterwards."""
    before = signal.getsignal(number)
    source, ear = Tone({300: number}), Ear()
    report = run(source, ear)
    assert ear.notes == ["NoteOn", "NoteOff"]
    assert source.closed
    assert report.seconds < 1.0
    assert signal.getsignal(number) == before


def test_ctrl_z_pauses_nothing_meanwhile() -> None:
    """A performance paused in a note would leave it sounding: SIGTSTP is not heeded, and is again afterwards."""
    before = signal.getsignal(signal.SIGTSTP)
    source, ear = Tone({300: signal.SIGTSTP}), Ear()
    report = run(source, ear)
    assert ear.notes == ["NoteOn", "NoteOff"]
    assert report.seconds == pytest.approx(2.0, abs=0.01)
    assert signal.getsignal(signal.SIGTSTP) == before


def test_a_fault_in_the_chain_leaves_nothing_sounding() -> None:
    """When reading fails, the note still ends, everything closes, and the error is told."""
    source, ear = Tone({300: RuntimeError("driver gone")}), Ear()
    with pytest.raises(RuntimeError, match="driver gone"):
        run(source, ear)
    assert ear.notes == ["NoteOn", "NoteOff"]
    assert ear.closed
    assert source.closed


def test_seconds_limit_it() -> None:
    """It ends once that much has been heard."""
    assert run(Tone(), Ear(), seconds=0.5).seconds == pytest.approx(0.5, abs=0.01)


def test_commands_are_obeyed_between_blocks() -> None:
    """Disarm and arm split the held note, another harp too; panic silences; stop ends."""
    ear = Ear()
    orders: dict[int, Command] = {150: Arm(), 250: Arm(armed=True), 400: ChangeHarp("G"), 500: Panic(), 600: Stop()}
    said: list[str] = []
    report = run(Tone(), ear, inputs=[Orders(orders)], notice=said.append)
    assert ear.notes == ["NoteOn", "NoteOff"] * 4
    assert ear.panics == 1
    assert report.seconds < 1.7
    assert not said


def test_an_impossible_harp_is_told_and_the_playing_goes_on() -> None:
    """A command with a harp that does not exist is one notice; the note goes on."""
    ear = Ear()
    said: list[str] = []
    run(Tone(), ear, inputs=[Orders({200: ChangeHarp("H")})], notice=said.append)
    assert ear.notes == ["NoteOn", "NoteOff"]
    assert len(said) == 1


def test_a_take_holds_what_was_played(tmp_path: Path) -> None:
    """The take has the note, the sound sample by sample, and a curve; nothing is lost when it is not live."""
    outputs = Outputs([], lambda *_: None)
    report = run_live(SETTINGS, source=Tone(), outputs=outputs, take=tmp_path, notice=pytest.fail)
    assert report.folder is not None
    assert report.lost == 0
    rows = (report.folder / "notes.csv").read_text().splitlines()
    assert len(rows) == 2
    assert rows[1].split(",")[3:5] == ["71", "3"]
    import soundfile

    samples, rate = soundfile.read(report.folder / "sound.wav", dtype="float32")
    assert rate == RATE
    np.testing.assert_allclose(samples, harmonic_tone(493.88, 2.0), atol=2e-7)
    assert (report.folder / "performance.mid").stat().st_size > 100


def test_a_take_that_cannot_be_written_does_not_stop_the_playing(tmp_path: Path) -> None:
    """When the folder of the take goes away, the playing goes on to its end and the loss is told once."""
    ear = Ear()
    said: list[str] = []

    class Vanishing(Tone):
        def read(self, _timeout_s: float) -> AudioBlock | None:
            if self._next == 0:
                for folder in tmp_path.iterdir():
                    shutil.rmtree(folder)
            return super().read(_timeout_s)

    outputs = Outputs([ear], lambda *_: None)
    report = run_live(SETTINGS, source=Vanishing(), outputs=outputs, take=tmp_path, notice=said.append)
    assert report.notes == 1
    assert ear.notes == ["NoteOn", "NoteOff"]
    assert len(said) == 1
    assert said[0].endswith("could be written: No such file or directory.")
    assert report.failed


def test_another_harp_is_kept_in_the_take(tmp_path: Path) -> None:
    """B4 is draw 3 on a C harp; on an A harp it is draw 4 (common practice, no source)."""
    outputs = Outputs([], lambda *_: None)
    report = run_live(
        SETTINGS,
        source=Tone(),
        outputs=outputs,
        take=tmp_path,
        inputs=[Orders({400: ChangeHarp("A")})],
        notice=pytest.fail,
    )
    assert report.folder is not None
    assert report.complete
    rows = [row.split(",") for row in (report.folder / "notes.csv").read_text().splitlines()[1:]]
    assert [row[6:8] for row in rows] == [["3", "draw"], ["4", "draw"]]
    (change,) = cast("list[dict[str, object]]", read_take_yaml(report.folder / "take.yaml")["harp_changes"])
    assert change["key"] == "A"
    assert change["time_s"] == pytest.approx(400 * 128 / RATE, abs=0.03)
    lines = [json.loads(line) for line in (report.folder / "journal.jsonl").read_text().splitlines()]
    kinds = [line["is"] for line in lines if line["is"] != "inflection"]
    assert kinds == ["on", "off", "harp", "on", "off"]
    assert next(line for line in lines if line["is"] == "harp")["key"] == "A"
