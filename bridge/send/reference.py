"""The tables of ``shared/messages.md``, made from ``shared/messages.yaml``: ``python -m bridge.send.reference``."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from bridge.base.resources import resource
from bridge.base.writing import write_safely
from bridge.send.catalogue import Argument, Catalogue, MidiValue, OscForm, catalogue

PAGE = "messages.md"
_BETWEEN_MARKS = re.compile(r"(<!-- table (\w+) -->\n).*?(<!-- end -->)", re.DOTALL)


def page(text: str, contract: Catalogue) -> str:
    """The page ``text`` with every table between its marks made anew; raises KeyError for a table there is not."""
    tables = {
        "midi": _midi(contract.midi),
        "osc_out": _osc(contract.osc_out),
        "arguments": _arguments(contract.osc_out),
        "osc_in": _osc(contract.osc_in),
    }
    return _BETWEEN_MARKS.sub(lambda found: f"{found[1]}\n{tables[found[2]]}\n\n{found[3]}", text)


def _midi(values: Mapping[str, MidiValue]) -> str:
    rows = (
        (name, value.message, value.mpe, f"{value.range[0]}..{value.range[1]}: {value.about}")
        for name, value in values.items()
    )
    return _table(("value", "one channel", "MPE", "range"), rows)


def _osc(forms: Mapping[str, OscForm]) -> str:
    rows = (
        (
            f"`{form.address}`",
            f"`{form.types}`" if form.types else "",
            ", ".join(argument.name for argument in form.arguments),
            form.about,
        )
        for form in forms.values()
    )
    return _table(("address", "types", "arguments", "when"), rows)


def _arguments(forms: Mapping[str, OscForm]) -> str:
    """What the arguments mean; those that mean the same in several messages once."""
    messages: dict[tuple[str, ...], list[str]] = {}
    for name, form in forms.items():
        for argument in form.arguments:
            messages.setdefault(_meaning(argument), []).append(name)
    rows = ((*meaning, ", ".join(names)) for meaning, names in messages.items())
    return _table(("argument", "unit", "range", "meaning", "in"), rows)


def _meaning(argument: Argument) -> tuple[str, str, str, str]:
    reach = "" if argument.range is None else f"{argument.range[0]:g}..{argument.range[1]:g}"
    return argument.name, argument.unit or "", reach, str(argument.means)


def _table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    lines = [head, ("---",) * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


if __name__ == "__main__":
    path = resource("shared", PAGE)
    write_safely(path, page(path.read_text(encoding="utf-8"), catalogue()))
