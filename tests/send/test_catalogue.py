"""The contract: the file, what the code sends, and the page made from it, are one."""

from __future__ import annotations

from pathlib import Path

import pytest
from pythonosc.osc_message import OscMessage

from bridge.base.errors import UserError
from bridge.base.resources import resource
from bridge.send import catalogue as contract
from bridge.send.osc_encoder import OscEncoder
from bridge.send.pitch import SentPitch
from bridge.send.reference import PAGE, page
from send.made_events import inflection, note_off, note_on, point


def test_the_page_is_made_from_the_table() -> None:
    """``shared/messages.md`` is what ``python -m bridge.send.reference`` would write."""
    text = resource("shared", PAGE).read_text(encoding="utf-8")
    assert page(text, contract.catalogue()) == text
    for form in (*contract.catalogue().osc_out.values(), *contract.catalogue().osc_in.values()):
        assert f"| `{form.address}` | " in text


def test_every_message_is_sent_with_the_types_of_the_table() -> None:
    """A performance makes each message of the table; python-osc reads its address, types and ranges from the bytes."""
    encoder = OscEncoder(0.0, SentPitch(), "1.0")
    messages = encoder.opening()
    for event in (note_on(0.0), inflection(0.1, degree="4"), point(0.2), note_off(0.3)):
        messages += encoder.encode(event)
    forms = {form.address: form for form in contract.catalogue().osc_out.values()}
    seen = set()
    for message in messages:
        read = OscMessage(message.data)
        form = forms[read.address]
        seen.add(read.address)
        kinds = {int: "i", float: "f", str: "s"}
        assert "".join(kinds[type(value)] for value in read.params) == form.types
        for value, argument in zip(read.params, form.arguments, strict=True):
            if argument.range is not None:
                assert argument.range[0] <= value <= argument.range[1], argument.name
    assert seen == set(forms)


def test_controllers_of_the_table_are_the_defaults_and_free() -> None:
    """Blueness and lean use controllers that MIDI 1.0 leaves undefined (4.2.1, table III: 3, 9, 14-15, 20-31 ...)."""
    undefined = {3, 9, 14, 15, *range(20, 32), *range(85, 91), *range(102, 120)}
    assert {contract.default_controller("blueness"), contract.default_controller("lean")} <= undefined
    with pytest.raises(UserError, match="gives bend no controller"):
        contract.default_controller("bend")


def test_a_damaged_table_is_told_with_its_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """File, line and what to do."""
    text = resource("shared", contract.FILE).read_text(encoding="utf-8")
    bad = tmp_path / contract.FILE
    bad.write_text(text.replace("type: s, is: version of the program", "type: x, is: version"), encoding="utf-8")
    monkeypatch.setattr(contract, "resource", lambda _folder, _name: bad)
    with pytest.raises(UserError, match=r"messages\.yaml:\d+: .*Install reedwire again"):
        contract.catalogue.__wrapped__()
