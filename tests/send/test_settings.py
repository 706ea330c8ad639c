"""Settings of sending: what is refused before anything is opened, and what the settings choose."""

from __future__ import annotations

import pytest
import yaml
from pydantic import ValidationError

from bridge.send.address import Address, parse_address
from bridge.send.choose import make_outputs
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch, sent_pitch
from bridge.send.settings import OscSettings, SendSettings


@pytest.mark.parametrize(
    ("text", "address"),
    [
        ("127.0.0.1:9000", Address("127.0.0.1", 9000)),
        ("localhost:1", Address("localhost", 1)),
        (" lab-2.local:65535 ", Address("lab-2.local", 65535)),
        ("[::1]:9000", Address("::1", 9000)),
    ],
)
def test_addresses_are_read(text: str, address: Address) -> None:
    """Host and port, an IPv6 number in brackets (RFC 3986, 3.2.2)."""
    assert parse_address(text) == address


@pytest.mark.parametrize("text", ["", "9000", ":9000", "host:", "host:0", "host:65536", "host:x", "::1:9000", "a b:1"])
def test_what_is_no_address_is_refused(text: str) -> None:
    """The settings say so, in both places where an address stands."""
    with pytest.raises(ValueError, match="HOST:PORT"):
        parse_address(text)
    with pytest.raises(ValidationError, match="HOST:PORT"):
        OscSettings(to=text)
    with pytest.raises(ValidationError, match="HOST:PORT"):
        OscSettings(listen=text)


@pytest.mark.parametrize(
    "text",
    [
        "channel: 0",
        "channel: 17",
        "bend_range: 0",
        "bend_range: 97",
        "breath: 120",
        "breath: 6",  # data entry
        "lean: 38",
        "bright: 66",  # sostenuto
        "{mode: mpe, blueness: 69}",  # hold pedal 2
        "blueness: 101",
        "breath: 74",  # taken by the brightness
        "breath: true",
        "{fourteen_bit: true, blueness: 20, lean: 52}",  # 52 is the fine half of 20
        "bytes_per_second: 50",
        "interval_ms: -1",
        "port: ''",
        "no_such_thing: 1",
    ],
)
def test_settings_that_cannot_work_are_refused(text: str) -> None:
    """Out of bounds, reserved by MIDI 1.0 (table III), used twice or unknown."""
    with pytest.raises(ValidationError):
        MidiSettings.model_validate(yaml.safe_load(text))


@pytest.mark.parametrize("text", ["off", "null", "false"])
def test_off_in_yaml_switches_a_controller_off(text: str) -> None:
    """YAML 1.1 reads ``off`` as False, which must not become controller 0, bank select."""
    settings = MidiSettings.model_validate(yaml.safe_load(f"breath: {text}\nbright: {text}"))
    assert (settings.breath, settings.bright, settings.lean) == (None, None, 21)


def test_the_harps_own_offset_goes_out_only_as_played() -> None:
    """``band`` takes it out, so that a harp at 443 plays in tune with a synth at 440."""
    offset = 11.77  # 1200 * log2(443 / 440)
    assert sent_pitch(SendSettings(), offset).cents(-50.0) == pytest.approx(-38.23)
    assert sent_pitch(SendSettings(synth_pitch="band"), offset).cents(-50.0) == -50.0
    assert sent_pitch(SendSettings(strength=0.0), offset).cents(-50.0) == pytest.approx(11.77)


@pytest.mark.parametrize(
    ("midi", "osc", "names"),
    [
        ("auto", "127.0.0.1:9000", ["MIDI", "OSC"]),
        ("none", "127.0.0.1:9000", ["OSC"]),
        ("auto", "none", ["MIDI"]),
        ("none", "none", []),
    ],
)
def test_the_outputs_are_those_the_settings_ask_for(midi: str, osc: str, names: list[str]) -> None:
    """None leaves an output out."""
    settings = SendSettings(midi=MidiSettings(port=midi), osc=OscSettings(to=osc))
    outputs = make_outputs(settings, pitch=SentPitch(), program_version="1.0", notice=lambda _line: None)
    assert [output.name for output in outputs] == names
