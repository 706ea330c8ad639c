"""The ``tempo:`` of a ``take.yaml``: where the beats lie, and how that is known.

Its keys: ``quarters_per_minute``, ``bar_1_s`` (seconds from the first sample), ``quarters_in_bar``, and ``known_from``,
which is ``option``, ``tap`` or ``estimate``; of an estimate ``sure`` too, 0..1. A take without the key has no tempo.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Literal, get_args

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from bridge.base.errors import ManyFaultsError, SettingError
from bridge.base.yaml_file import YamlFile, read_yaml
from bridge.takes.edited import Tempo

Origin = Literal["option", "tap", "estimate"]

#: Quarters a minute that are taken for a tempo.
SLOWEST, FASTEST = 20.0, 400.0
MOST_QUARTERS_IN_BAR = 16
_MOST_BAR_1_S = 36000.0
_TEMPO_DIGITS, _TIME_DIGITS = 3, 4


class _TempoFacts(BaseModel):
    """The keys as they may be edited by hand."""

    model_config = ConfigDict(extra="forbid")

    quarters_per_minute: float = Field(ge=SLOWEST, le=FASTEST, allow_inf_nan=False)
    bar_1_s: float = Field(default=0.0, ge=-_MOST_BAR_1_S, le=_MOST_BAR_1_S, allow_inf_nan=False)
    quarters_in_bar: int = Field(default=4, ge=1, le=MOST_QUARTERS_IN_BAR)
    known_from: Origin = "option"
    sure: float | None = Field(default=None, ge=0.0, le=1.0)


#: The same in words.
_ALLOWED = {
    "quarters_per_minute": f"a number from {SLOWEST:g} to {FASTEST:g}",
    "bar_1_s": f"seconds from the first sample, from {-_MOST_BAR_1_S:g} to {_MOST_BAR_1_S:g}",
    "quarters_in_bar": f"a whole number from 1 to {MOST_QUARTERS_IN_BAR}",
    "known_from": f"one of {', '.join(get_args(Origin))}",
    "sure": "a number from 0 to 1, or leave it out",
}


def as_told(tempo: Tempo) -> Tempo:
    """A tempo as exactly as ``take.yaml`` tells it: what is made with it now is what is made with it later."""
    return replace(
        tempo,
        quarters_per_minute=round(tempo.quarters_per_minute, _TEMPO_DIGITS),
        bar_1_s=round(tempo.bar_1_s, _TIME_DIGITS),
    )


def tempo_facts(tempo: Tempo, known_from: Origin, sure: float | None = None) -> dict[str, object]:
    """What ``take.yaml`` says of ``tempo``; ``sure``, 0..1, is for estimates."""
    told = as_told(tempo)
    return {
        "quarters_per_minute": told.quarters_per_minute,
        "bar_1_s": told.bar_1_s,
        "quarters_in_bar": told.quarters_in_bar,
        "known_from": known_from,
        **({} if sure is None else {"sure": round(sure, 2)}),
    }


def read_tempo(path: Path) -> Tempo | None:
    """The tempo in the ``take.yaml`` at ``path``; None where it says nothing of one.

    Raises SettingError that names file, line, what was found and what is allowed, ManyFaultsError for several.
    """
    told = read_told_tempo(path)
    return None if told is None else told[0]


def read_told_tempo(path: Path) -> tuple[Tempo, Origin, float | None] | None:
    """The same with how it is known, and of an estimate how sure it is, 0..1."""
    file = read_yaml(path)
    plain = file.data.get("tempo")
    if plain is None:
        return None
    if not isinstance(plain, Mapping):
        allowed = f"these below it: {', '.join(_ALLOWED)}"
        raise SettingError(where=file.where(("tempo",)), key="tempo", found=plain, allowed=allowed)
    try:
        facts = _TempoFacts.model_validate(plain)
    except ValidationError as error:
        faults = [_fault(file, plain, str(problem["loc"][0])) for problem in error.errors()]
        raise faults[0] if len(faults) == 1 else ManyFaultsError(faults) from error
    return Tempo(facts.quarters_per_minute, facts.bar_1_s, facts.quarters_in_bar), facts.known_from, facts.sure


def _fault(file: YamlFile, plain: Mapping[str, object], key: str) -> SettingError:
    """What is wrong with a key of ``tempo:``."""
    allowed = _ALLOWED.get(key, f"one of: {', '.join(_ALLOWED)}")
    found = plain.get(key) if key in _ALLOWED else key
    return SettingError(where=file.where(("tempo", key)), key=f"tempo.{key}", found=found, allowed=allowed)
