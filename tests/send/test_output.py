"""The fan-out: one failing output never stops another."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.errors import ClosedError, OutputError
from bridge.base.events import Event
from bridge.send.output import Outputs
from send.made_events import note_off, note_on


@dataclass
class Noting:
    """An output that notes what is asked of it and fails where told to."""

    name: str
    fails_in: frozenset[str] = frozenset()
    done: list[str] = field(default_factory=list)

    def _do(self, what: str) -> None:
        self.done.append(what)
        if what in self.fails_in:
            raise OSError(f"{self.name} cannot {what}")

    def open(self) -> None:
        """Note it."""
        self._do("open")

    def send(self, _event: Event) -> None:
        """Note it."""
        self._do("send")

    def attend(self, _now_s: float) -> None:
        """Note it."""
        self._do("attend")

    def panic(self) -> None:
        """Note it."""
        self._do("panic")

    def close(self) -> None:
        """Note it."""
        self._do("close")


@given(
    st.lists(st.frozensets(st.sampled_from(["send", "panic", "close"])), min_size=1, max_size=4),
    st.lists(st.sampled_from(["send", "panic"]), max_size=8),
)
def test_every_output_is_asked_everything_wherever_others_fail(fails: list[frozenset[str]], actions: list[str]) -> None:
    """Each output gets every call; each one that fails is told of exactly once."""
    told: list[str] = []
    parts = [Noting(str(index), fails_in) for index, fails_in in enumerate(fails)]
    outputs = Outputs(parts, lambda name, _error: told.append(name))
    outputs.open()
    for action in actions:
        if action == "send":
            outputs.send(note_on(0.0))
        else:
            outputs.panic()
    outputs.close()
    asked = ["open", *actions, "close"]
    assert all(part.done == asked for part in parts)
    assert sorted(told) == [part.name for part in parts if part.fails_in & set(asked)]


def test_the_failure_that_is_told_is_the_first_one() -> None:
    """The callback gets the name and the error itself."""
    told: list[tuple[str, str]] = []
    outputs = Outputs(
        [Noting("one", frozenset({"send", "close"}))], lambda name, error: told.append((name, str(error)))
    )
    outputs.open()
    outputs.send(note_on(0.0))
    outputs.send(note_off(0.1))
    outputs.close()
    assert told == [("one", "one cannot send")]


def test_an_output_that_cannot_be_opened_closes_those_before_it() -> None:
    """Its error comes out; it and what was opened before are closed, what comes after was never touched."""

    class Missing(Noting):
        def open(self) -> None:
            raise OutputError("no such port")

    first, missing, last = Noting("first"), Missing("missing"), Noting("last")
    outputs = Outputs([first, missing, last], lambda *_: None)
    with pytest.raises(OutputError, match="no such port"):
        outputs.open()
    assert first.done == ["open", "close"]
    assert missing.done == ["close"]
    assert last.done == []
    with pytest.raises(ClosedError):
        outputs.send(note_on(0.0))


def test_closing_is_idempotent_and_a_closed_fan_out_raises() -> None:
    """Closing twice closes each output once, the last first; using it then is a fault."""
    order: list[str] = []

    class Ordered(Noting):
        def close(self) -> None:
            order.append(self.name)

    outputs = Outputs([Ordered("a"), Ordered("b")], lambda *_: None)
    outputs.open()
    outputs.close()
    outputs.close()
    assert order == ["b", "a"]
    with pytest.raises(ClosedError):
        outputs.send(note_on(0.0))
    with pytest.raises(ClosedError):
        outputs.panic()
