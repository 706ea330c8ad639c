"""Settings of quantise: what is refused, and that the message says why."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from bridge.quantise.settings import QuantiseSettings


@pytest.mark.parametrize(
    ("plain", "told"),
    [
        ({"scale": "dorian"}, "There is no scale 'dorian'"),
        ({"scales": {"mine": "1 9"}}, "found '9'"),
        ({"scales": {"blues": "1 5"}}, "another name"),
        ({"glide": "many"}, "'one' or 'split'"),
        ({"velocity": 0}, "1 to 127, or 'attack'"),
        ({"velocity": 128}, "1 to 127, or 'attack'"),
        ({"also_blue": ["6"]}, "'5' or '7'"),
        ({"breath": {"floor_db": -9, "ceiling_db": -48}}, "floor_db must lie below"),
        ({"jump": {"cents": 0}}, "greater than 0"),
        ({"third": {"straight": 400, "minor": 300, "target": 370, "zone_low": 315, "zone_high": 365}}, "must rise"),
        ({"third": {"straight": 1000, "minor": 300, "target": 350, "zone_low": 315, "zone_high": 365}}, "at most 600"),
        ({"strength": 1}, "Extra inputs"),
    ],
)
def test_a_wrong_setting_is_refused(plain: dict[str, object], told: str) -> None:
    """Each wrong value is refused with what is allowed."""
    with pytest.raises(ValidationError) as caught:
        QuantiseSettings.model_validate(plain)
    assert told in str(caught.value)


def test_every_setting_is_described() -> None:
    """Each setting, nested ones too, says what it is, so that the commented file can be checked against it."""
    assert all(field.description for field in QuantiseSettings.model_fields.values())
    nested = QuantiseSettings.model_json_schema()["$defs"]
    assert all("description" in field for model in nested.values() for field in model["properties"].values())


def test_a_scale_of_ones_own_can_be_chosen() -> None:
    """A scale in 'scales' may be named in 'scale'."""
    assert QuantiseSettings.model_validate({"scale": "mine", "scales": {"mine": "1 5"}}).scale == "mine"
