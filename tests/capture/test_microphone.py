"""The microphone, on a real silent sound card (jackd) and without one."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pytest

from bridge.base.errors import ClosedError, UserError
from bridge.capture.microphone import Microphone
from bridge.capture.settings import CaptureSettings
from bridge.capture.sound_system import list_devices
from jack_server import jack_server
from parts import require

#: Opens the microphone, says so, and after each line of input reads on until it has ``samples`` more.
LISTENER = """
import json, sys
import numpy as np
from bridge.capture.microphone import Microphone
from bridge.capture.settings import CaptureSettings

settings, samples, path = CaptureSettings.model_validate_json(sys.argv[1]), int(sys.argv[2]), sys.argv[3]
starts, blocks = [], []
with Microphone(settings) as microphone:
    print(json.dumps({"name": microphone.name, "rate": microphone.rate}), flush=True)
    for line in sys.stdin:
        until = sum(map(len, blocks)) + samples
        while sum(map(len, blocks)) < until:
            block = microphone.read(1.0)
            if len(block.samples):
                starts.append(block.start)
                blocks.append(block.samples)
        print("read", flush=True)
    after = {"lost": microphone.lost, "dropouts": microphone.dropouts}
index = np.concatenate([start + np.arange(len(block)) for start, block in zip(starts, blocks)])
np.savez(path, index=index, samples=np.concatenate(blocks))
print(json.dumps(after), flush=True)
"""
#: One step of the counting signal; exact in float32.
STEP = 2.0**-22


@contextmanager
def counting_signal(env: Mapping[str, str]) -> Iterator[None]:
    """A JACK client that feeds PortAudio's first input with its own sample count, and the second with minus that."""
    import jack

    client = jack.Client("counting", no_start_server=True, servername=env["JACK_DEFAULT_SERVER"])
    ports = [client.outports.register(name) for name in ("up", "down")]
    sent = 0

    @client.set_process_callback  # type: ignore[untyped-decorator]
    def send(frames: int) -> None:
        nonlocal sent
        ramp = np.arange(sent, sent + frames, dtype=np.float32) * np.float32(STEP)
        ports[0].get_array()[:] = ramp
        ports[1].get_array()[:] = -ramp
        sent += frames

    with client:
        for own, other in zip(ports, client.get_ports("PortAudio", is_input=True), strict=False):
            client.connect(own, other)
        yield
    client.close()


def listen(
    tmp_path: Path, settings: CaptureSettings, samples: int, *, pause_s: float = 0.0
) -> tuple[dict[str, Any], np.ndarray, np.ndarray]:
    """What a microphone in another process gets of the counting signal: facts, sample indices and samples."""
    require("portaudio")
    with jack_server(period=1024) as env:
        heard = tmp_path / "heard.npz"
        command = [sys.executable, "-c", LISTENER, settings.model_dump_json(), str(samples), str(heard)]
        with subprocess.Popen(
            command, env=env, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=Path(__file__).parents[2]
        ) as listener:
            assert listener.stdin is not None
            assert listener.stdout is not None
            try:
                facts = json.loads(listener.stdout.readline())
                with counting_signal(env):
                    for _ in range(2):
                        listener.stdin.write("\n")
                        listener.stdin.flush()
                        assert listener.stdout.readline() == "read\n"
                        if pause_s:
                            _wait_for(env, pause_s)
                    listener.stdin.close()
                    facts |= json.loads(listener.stdout.readline())
                listener.wait(30.0)
            finally:
                listener.kill()
    with np.load(heard) as kept:
        return facts, kept["index"], kept["samples"]


def _wait_for(env: Mapping[str, str], seconds: float) -> None:
    """Let that much of the sound card's own time pass."""
    import jack

    client = jack.Client("waiting", no_start_server=True, servername=env["JACK_DEFAULT_SERVER"])
    until = client.frame_time + round(seconds * client.samplerate)
    with client:
        while client.frame_time < until:
            subprocess.run(["sleep", "0.05"], check=True)
    client.close()


def test_what_the_card_gets_arrives_sample_for_sample(tmp_path: Path) -> None:
    """A signal that counts its own samples comes out as it went in, and none is lost."""
    facts, index, samples = listen(tmp_path, CaptureSettings(), 24000)
    assert facts["rate"] == 48000
    assert facts["lost"] == 0
    np.testing.assert_array_equal(index, np.arange(len(index)))
    sounding = samples[np.argmax(samples > 0) :] / STEP
    assert len(sounding) > 24000
    assert np.mean(np.diff(sounding) == 1.0) > 0.999


def test_an_overflow_is_counted_and_the_sample_count_stays_true(tmp_path: Path) -> None:
    """A pause of half a second loses samples of a ring of a tenth, and the rest keep their time."""
    facts, index, samples = listen(tmp_path, CaptureSettings(ring_seconds=0.1), 9600, pause_s=0.5)
    assert facts["lost"] > 9600
    jump = int(np.argmax(np.diff(index)))
    assert np.sum(np.diff(index) - 1) == facts["lost"]
    sounding = samples > 0
    delay = index[sounding] - np.round(samples[sounding] / STEP)
    assert np.median(delay[index[sounding] <= index[jump]]) == np.median(delay[index[sounding] > index[jump]])


@pytest.mark.parametrize(("channel", "share"), [(2, -1.0), ("mix", 0.0)])
def test_another_channel_or_the_mean_of_two_can_be_taken(
    tmp_path: Path, channel: int | Literal["mix"], share: float
) -> None:
    """Channel 2 carries the negative count; the mean of both is nothing."""
    settings = CaptureSettings(channel=channel, input="SYS")
    facts, _, samples = listen(tmp_path, settings, 9600)
    assert facts["name"] == "system"
    settled = samples[-4096:]
    assert np.all(np.sign(settled) == np.sign(share))


def test_a_refused_rate_falls_back_to_the_cards_own(tmp_path: Path) -> None:
    """A card that runs at 48000 Hz and nothing else is used at that, and says so."""
    facts, index, _ = listen(tmp_path, CaptureSettings(rate_hz=44100), 4800)
    assert facts["rate"] == 48000
    assert len(index) >= 9600


def test_a_missing_channel_is_refused_with_how_many_there_are(tmp_path: Path) -> None:
    """Asking for channel 7 of a card with two says so in one sentence, without a traceback of PortAudio."""
    require("portaudio")
    program = (
        "from bridge.capture.microphone import Microphone; from bridge.capture.settings import CaptureSettings;"
        "Microphone(CaptureSettings(channel=7)).open()"
    )
    with jack_server() as env:
        done = subprocess.run([sys.executable, "-c", program], env=env, capture_output=True, text=True, check=False)
    assert "has no channel 7. Choose 1 to 2." in done.stderr


def test_without_portaudio_the_package_to_install_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both the list of devices and the microphone say which Debian package brings PortAudio."""
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    for use in (list_devices, Microphone(CaptureSettings()).open):
        with pytest.raises(UserError, match="libportaudio2"):
            use()


def test_importing_the_microphone_does_not_touch_the_sound_system() -> None:
    """PortAudio is loaded only when a device is asked for."""
    program = "import sys, bridge.capture.microphone; print('sounddevice' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_reading_or_closing_what_is_not_open() -> None:
    """Reading raises, closing twice does nothing."""
    microphone = Microphone(CaptureSettings())
    microphone.close()
    microphone.close()
    with pytest.raises(ClosedError):
        microphone.read(0.0)
