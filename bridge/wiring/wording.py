"""What a setting allows, in plain words, read off the models themselves."""

from __future__ import annotations

import types
from collections.abc import Iterable, Iterator, Sequence
from difflib import get_close_matches
from typing import Annotated, Any, Literal, Union, get_args, get_origin

import annotated_types
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from bridge.base.yaml_file import KeyPath

#: Words that have their capital everywhere.
_UNITS = ("Hz", "Hz,")
_WORDS = {bool: "true or false", int: "a whole number", float: "a number", str: "a word", object: "any value"}


def field_at(model: type[BaseModel], key: KeyPath) -> FieldInfo | None:
    """The field that ``key`` leads to, groups of settings included; None when it leads nowhere."""
    field: FieldInfo | None = None
    inner: type[BaseModel] | None = model
    for name in key:
        if inner is None or not isinstance(name, str) or name not in inner.model_fields:
            return None
        field = inner.model_fields[name]
        inner = group_in(field.annotation)
    return field


def group_in(annotation: Any) -> type[BaseModel] | None:  # noqa: ANN401 -- an annotation can be anything
    """The model an annotation names, alone or as one of several choices; None when it names none."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    choices = get_args(annotation) if get_origin(annotation) in (Union, types.UnionType, Annotated) else ()
    return next((found for choice in choices if (found := group_in(choice)) is not None), None)


def names_below(model: type[BaseModel], key: KeyPath) -> list[str]:
    """The settings in the group that ``key`` leads to; of the whole model for the empty key."""
    field = field_at(model, key) if key else None
    group = model if not key else group_in(field.annotation) if field else None
    return list(group.model_fields) if group else []


def allowed_names(model: type[BaseModel], key: KeyPath) -> str:
    """What may stand in place of the unknown ``key``: the likeliest first, then the names there are."""
    names = names_below(model, key[:-1])
    near = nearest(model, key)
    hint = f"{near} (the nearest), or one of: " if near else "one of: "
    return hint + ", ".join(names) if names else "nothing below " + ".".join(map(str, key[:-1]))


def nearest(model: type[BaseModel], key: KeyPath) -> str | None:
    """The known key most like ``key``: beside it first, else with the same name elsewhere."""
    wrong = str(key[-1])
    close = get_close_matches(wrong, names_below(model, key[:-1]), n=1)
    if close:
        return ".".join([*map(str, key[:-1]), close[0]])
    every = list(all_keys(model))
    elsewhere = [name for name in every if name.rpartition(".")[2] == wrong]
    alike = elsewhere or get_close_matches(".".join(map(str, key)), every, n=1, cutoff=0.75)
    return alike[0] if alike else None


def all_keys(model: type[BaseModel]) -> Sequence[str]:
    """Every setting of the model as a dotted key, groups themselves left out, in the model's order."""
    keys: list[str] = []
    for name, field in model.model_fields.items():
        group = group_in(field.annotation)
        keys += [f"{name}.{below}" for below in all_keys(group)] if group else [name]
    return keys


def describe(field: FieldInfo) -> str:
    """What the field allows, its bounds and, in brackets, what it means."""
    text = _describe(field.annotation, field.metadata)
    return f"{text} ({in_brackets(field.description)})" if field.description else text


def in_brackets(description: str) -> str:
    """A description as it stands in the middle of a sentence: neither a capital of its own nor a full stop."""
    first = description.split(" ", 1)[0]
    plain = first not in _UNITS and (first[1:] == "" or first[1:].rstrip(".,:;").islower())
    return (description[0].lower() + description[1:] if plain else description).rstrip(".")


def _describe(annotation: Any, metadata: Sequence[object] = ()) -> str:  # noqa: ANN401 -- as above
    """One annotation in words."""
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        text = _describe(arguments[0], [*arguments[1:], *metadata])
    elif origin in (Union, types.UnionType):
        text = " or ".join(dict.fromkeys(_describe(choice, metadata) for choice in arguments))
    elif origin is Literal:
        text = ("one of " if len(arguments) > 1 else "") + ", ".join(map(str, arguments))
    elif origin in (list, tuple):
        text = f"a list, each item {_describe(arguments[0])}"
    elif origin is dict:
        text = "names with values below them"
    elif annotation is types.NoneType:
        text = "nothing (null)"
    elif (group := group_in(annotation)) is not None:
        text = f"these settings below it: {', '.join(group.model_fields)}"
    else:
        text = _WORDS[annotation] + (_bounds(metadata) if annotation in (int, float) else "")
    return text


def _bounds(metadata: Sequence[object]) -> str:
    """The limits among an annotation's metadata, in words."""
    limits = list(_limits(metadata))
    low = next((f"from {limit.ge}" for limit in limits if isinstance(limit, annotated_types.Ge)), "")
    low = next((f"above {limit.gt}" for limit in limits if isinstance(limit, annotated_types.Gt)), low)
    high = next((f"to {limit.le}" for limit in limits if isinstance(limit, annotated_types.Le)), "")
    high = next((f"below {limit.lt}" for limit in limits if isinstance(limit, annotated_types.Lt)), high)
    if high.startswith("to") and not low:
        high = f"up {high}"
    return "".join(f" {limit}" for limit in (low, high) if limit)


def _limits(metadata: Iterable[object]) -> Iterator[object]:
    """Every single limit, those inside a nested ``Field`` included."""
    for item in metadata:
        if isinstance(item, FieldInfo):
            yield from _limits(item.metadata)
        else:
            yield item
