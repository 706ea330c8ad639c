"""What a page may say, and that nothing else is understood."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.commands import Arm, ChangeHarp, Panic, Quiet
from bridge.web.messages import MOST_SHARED, Ask, Do, MessageError, Said, Seen, Share, dumps, read_message

_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner, max_size=4),
    max_leaves=12,
)


_IS = st.sampled_from(["seen", "do", "ask"])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('{"is":"seen","n":1}', Seen(1)),
        ('{"is":"ask","what":"delays"}', Ask("delays")),
        ('{"is":"do","what":"arm","on":false}', Do(Arm(armed=False))),
        ('{"is":"do","what":"quiet","on":true}', Do(Quiet(sounding=True))),
        ('{"is":"do","what":"harp","harp":"low-F"}', Do(ChangeHarp("low-F"))),
        ('{"is":"do","what":"panic"}', Do(Panic())),
        ('{"is":"do","what":"share","view":{"hidden":true}}', Share({"hidden": True})),
    ],
)
def test_the_messages_of_the_contract_are_understood(text: str, said: Said) -> None:
    """Each one of ``shared/board-messages.md``."""
    assert read_message(text) == said


@pytest.mark.parametrize(
    "text",
    [
        *("", "{", "[]", "null", '"seen"', "1", "{}", '{"is":"seen"}', '{"is":"seen","n":0}', '{"is":"seen","n":-1}'),
        *('{"is":"seen","n":1.5}', '{"is":"seen","n":true}', '{"is":"seen","n":"1"}', '{"is":"seen","n":NaN}'),
        *('{"is":"seen","n":1,"more":1}', f'{{"is":"seen","n":{"9" * 40}}}', f'{{"is":"seen","n":{"9" * 4000}}}'),
        *('{"is":"do"}', '{"is":"do","what":"stop"}', '{"is":"do","what":"arm"}', '{"is":"do","what":"arm","on":1}'),
        *('{"is":"do","what":"arm","on":true,"x":1}', '{"is":"do","what":"harp","harp":""}'),
        *('{"is":"do","what":"harp","harp":7}', f'{{"is":"do","what":"harp","harp":"{"A" * 33}"}}'),
        *('{"is":"do","what":"harp","harp":"A\\u0000B"}', '{"is":"do","what":"harp","harp":"\\u001b[2J"}'),
        *('{"is":"do","what":"harp","harp":"\\ud800"}', '{"is":"do","what":"panic","on":true}'),
        *('{"is":"do","what":"share"}', '{"is":"do","what":"share","view":[]}', '{"is":"ask","what":"tokens"}'),
        *('{"is":"do","what":"share","view":{"a":Infinity}}', '{"is":"do","what":"share","view":{"a":1e999}}'),
        '{"is":"do","what":"share","view":' + '{"a":' * 7 + "1" + "}" * 8,
        '{"is":"do","what":"share","view":{"a":"' + "x" * MOST_SHARED + '"}}',
        *("[" * 4000, " " * 5000),
    ],
)
def test_anything_else_is_refused(text: str) -> None:
    """Nothing is guessed, and nothing but MessageError is raised."""
    with pytest.raises(MessageError):
        read_message(text)


@pytest.mark.parametrize("deep", [7, 400, 700, 990, 1900])
def test_nothing_that_is_nested_too_deep_is_a_view(deep: int) -> None:
    """Neither what is just too deep nor what would be too deep to look into."""
    with pytest.raises(MessageError):
        read_message(f'{{"is":"do","what":"share","view":{{"a":{"[" * deep}{"]" * deep}}}}}')


@given(_JSON | st.fixed_dictionaries({"is": _IS}, optional={"n": _JSON, "what": _JSON}))
def test_no_json_breaks_it(plain: object) -> None:
    """Any JSON is a message of the contract or a MessageError."""
    try:
        said = read_message(json.dumps(plain))
    except MessageError:
        return
    assert isinstance(said, Said)


@given(st.text())
def test_no_text_breaks_it(text: str) -> None:
    """Any text too."""
    try:
        said = read_message(text)
    except MessageError:
        return
    assert isinstance(said, Said)


@given(_JSON)
def test_what_is_sent_can_be_read_by_any_browser(plain: object) -> None:
    """Plain JSON (RFC 8259) that comes back as it was; numbers that JSON does not have are a fault, not sent."""
    try:
        text = dumps(plain)
    except ValueError:
        return
    assert text.isascii()
    assert json.loads(text, parse_constant=pytest.fail) == plain
