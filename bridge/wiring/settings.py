"""The settings of all stages as one model, and how they are read: defaults, preset, options, ``--set``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from bridge.base.errors import ManyFaultsError, SettingError
from bridge.base.yaml_file import KeyPath
from bridge.capture.settings import CaptureSettings
from bridge.follow.settings import FollowSettings
from bridge.harp.settings import LAYOUT_FINDER, HarpSettings
from bridge.quantise.settings import QuantiseSettings
from bridge.send.settings import SendSettings
from bridge.study.settings import StudySettings
from bridge.takes.settings import TakeSettings
from bridge.wiring.harp_choice import settle_harp
from bridge.wiring.harps import find_layout
from bridge.wiring.layers import Layers, gather
from bridge.wiring.wording import allowed_names, describe, field_at

Model = TypeVar("Model", bound=BaseModel)


class Settings(BaseModel):
    """Everything that can be set, in the order of the signal."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    capture: CaptureSettings = Field(CaptureSettings(), description="where the sound comes from")
    follow: FollowSettings = Field(FollowSettings(), description="what is heard in it")
    harp: HarpSettings = Field(HarpSettings(), description="which harp is played")
    quantise: QuantiseSettings = Field(
        QuantiseSettings(), description="what counts as a note, and where the third lies"
    )
    send: SendSettings = Field(SendSettings(), description="what goes out, and how")
    study: StudySettings = Field(StudySettings(), description="what is near enough in an exercise")
    takes: TakeSettings = Field(TakeSettings(), description="what is kept")


def load_settings(
    preset: str | None = None,
    sets: Sequence[str] = (),
    flags: Mapping[str, object] | None = None,
    granted: Mapping[str, object] | None = None,
) -> Settings:
    """The settings in force: ``config/default.yaml`` < ``granted`` < preset (name or file) < ``flags`` < ``sets``.

    ``flags`` maps dotted keys to values, None meaning "not given", ``granted`` to what a command takes for granted;
    ``sets`` are words like ``harp.a4_hz=442``. Raises SettingError with file, line, key, what was found and what is
    allowed, ManyFaultsError of them when several are wrong, UserError for an unreadable file and for a harp that was
    named in two ways at once.
    """
    layers = gather(preset, sets, flags or {}, granted)
    settle_harp(layers)
    return validate(Settings, layers)


def validate(model: type[Model], layers: Layers) -> Model:
    """``layers`` as a ``model``. Raises SettingError for what is wrong, ManyFaultsError in the order it was said."""
    try:
        return model.model_validate(layers.data, context={LAYOUT_FINDER: find_layout})
    except ValidationError as error:
        faults = _faults(model, layers, error)
        raise faults[0] if len(faults) == 1 else ManyFaultsError(faults) from error


def _faults(model: type[BaseModel], layers: Layers, error: ValidationError) -> list[SettingError]:
    """All that is wrong, each setting once, in the order of layers and lines."""
    found: dict[tuple[str, str], tuple[tuple[int, int], SettingError]] = {}
    # Of a setting that may be one of several things pydantic tells why it is none of them: an unknown key says most.
    for problem in sorted(error.errors(include_url=False), key=lambda item: item["type"] != "extra_forbidden"):
        key, fault = _in_words(model, layers, problem)
        found.setdefault((fault.where, fault.key), (layers.order(key), fault))
    return [fault for _, fault in sorted(found.values(), key=lambda item: item[0])]


def _in_words(model: type[BaseModel], layers: Layers, problem: Mapping[str, Any]) -> tuple[KeyPath, SettingError]:
    """One of pydantic's findings as our own message, and the key it is about."""
    unknown = problem["type"] == "extra_forbidden"
    key = _key(model, problem["loc"], keep_last=unknown or problem["type"] == "missing")
    found = problem["input"]
    if unknown:
        allowed = allowed_names(model, key)
        found = key[-1]
    elif problem["type"] == "value_error" and isinstance(found, Mapping):
        key, found = _narrowed(layers, key, found)
        allowed = _said(problem)
    elif problem["type"] == "missing":
        allowed = "a value; it may not be left out"
        found = None
    else:
        field = field_at(model, key)
        allowed = _said(problem) if problem["type"] == "value_error" or field is None else describe(field)
    return key, SettingError(where=layers.where(key), key=".".join(map(str, key)), found=found, allowed=allowed)


def _said(problem: Mapping[str, Any]) -> str:
    """What a model's own check allows; that there is no such thing, and of what kind, needs not be said twice."""
    words = str(problem["msg"]).removeprefix("Value error, ").rstrip(".")
    _, _, choices = words.partition(". ")
    if not words.startswith("There is no ") or not choices:
        return words
    return choices.partition(": ")[2] or choices


def _narrowed(layers: Layers, group: KeyPath, values: Mapping[str, object]) -> tuple[KeyPath, object]:
    """A check over a whole group failed: the one setting that was said last, else the group's plain values."""
    said_last = layers.latest(group)
    if len(said_last) == 1:
        return said_last[0]
    return group, {name: value for name, value in values.items() if not isinstance(value, Mapping)}


def _key(model: type[BaseModel], place: Sequence[str | int], *, keep_last: bool) -> KeyPath:
    """The key in pydantic's location, without the names it adds for choices and items; an unknown last name stays."""
    known: KeyPath = ()
    for part in place:
        if field_at(model, (*known, part)) is None:
            return (*known, part) if keep_last else known
        known = (*known, part)
    return known
