"""What a page may ask for of exercises, and that nothing else is understood."""

from __future__ import annotations

import json
from typing import Any

import pytest

from bridge.web.messages import DrillOff, DrillOn, MessageError, read_message

BEGIN = {"is": "do", "what": "drill", "on": True, "exercise": "blue", "tempo": 72, "player": "me", "in": 1}


def test_an_exercise_is_begun_and_broken_off() -> None:
    """As ``shared/board-messages.md`` has it; without a latency the beat is only seen."""
    heard = read_message(json.dumps({**BEGIN, "latency": 0.04}))
    assert heard == DrillOn("blue", 72.0, "me", 1.0, 0.04)
    assert read_message(json.dumps({**BEGIN, "latency": None})) == DrillOn("blue", 72.0, "me", 1.0, None)
    assert read_message('{"is":"do","what":"drill","on":false}') == DrillOff()


@pytest.mark.parametrize(
    "wrong",
    [
        *({"tempo": 29}, {"tempo": 201}, {"tempo": "72"}, {"tempo": True}, {"tempo": None}, {"in": -0.1}, {"in": 11}),
        *({"in": None}, {"latency": 2.1}, {"latency": -1}, {"latency": False}, {"player": ""}, {"player": "a" * 41}),
        *(
            {"player": "a\n"},
            {"player": 7},
            {"exercise": ""},
            {"exercise": None},
            {"on": 1},
            {"on": False},
            {"more": 1},
        ),
    ],
)
def test_anything_else_is_refused(wrong: dict[str, Any]) -> None:
    """A number out of its bounds, no number, a name that is none, too much and too little."""
    with pytest.raises(MessageError):
        read_message(json.dumps({**BEGIN, "latency": 0.04, **wrong}))


@pytest.mark.parametrize("missing", ["exercise", "tempo", "player", "in", "latency", "on"])
def test_nothing_may_be_missing(missing: str) -> None:
    """Each of its fields is needed."""
    said = {**BEGIN, "latency": 0.04}
    del said[missing]
    with pytest.raises(MessageError):
        read_message(json.dumps(said))
