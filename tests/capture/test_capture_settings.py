"""The settings of capture."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from bridge.capture.settings import CaptureSettings


@pytest.mark.parametrize("given", [{"input": 3}, {"input": "usb"}, {"channel": "mix"}, {"channel": 2}])
def test_devices_and_channels_go_by_number_or_word(given: dict[str, object]) -> None:
    """What is given stays as it is, a number a number and a word a word."""
    (key, value), *_ = given.items()
    assert getattr(CaptureSettings.model_validate(given), key) == value


@pytest.mark.parametrize(
    "given",
    [
        {"input": -1},
        {"channel": 0},
        {"channel": "left"},
        {"rate_hz": 10},
        {"block": 0},
        {"ring_seconds": 0},
        {"gain": 1},
    ],
)
def test_what_no_sound_card_could_do_is_refused(given: dict[str, object]) -> None:
    """Values out of bounds and keys that do not exist are errors."""
    with pytest.raises(ValidationError):
        CaptureSettings.model_validate(given)


def test_every_setting_is_described() -> None:
    """Each has a sentence for whoever reads it in a file of settings."""
    assert all(field.description for field in CaptureSettings.model_fields.values())
