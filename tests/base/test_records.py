"""Events, status and commands survive the way through the hand-off."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.commands import Arm, Begin, ChangeHarp, HearClicks, Panic, Quiet, Stop, Tap
from bridge.base.events import Inflection, NoteOff, NoteOn, PitchPoint, Status
from bridge.base.records import (
    RECORD_BYTES,
    ClicksBack,
    Record,
    Saying,
    TakeStopped,
    TappedTempo,
    decode,
    decode_command,
    encode,
)

_NUMBER = st.floats(allow_nan=False)
_ID = st.integers(0, 2**62)
_WORD = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=3)

_INFLECTIONS = st.builds(Inflection, _ID, _NUMBER, _NUMBER, _NUMBER, _WORD, *[_NUMBER] * 4)
_COMMANDS = st.one_of(
    st.builds(Arm, st.sampled_from([None, True, False]), st.booleans()),
    st.builds(ChangeHarp, _WORD),
    st.just(Panic()),
    st.just(Tap()),
    st.just(Stop()),
    st.just(Begin()),
    st.builds(HearClicks, _NUMBER, _NUMBER, st.integers(0, 255)),
    st.builds(Quiet, st.booleans()),
)
_RECORDS: st.SearchStrategy[Record] = st.one_of(
    st.builds(PitchPoint, *[_NUMBER] * 6),
    _INFLECTIONS,
    st.builds(NoteOn, _ID, _NUMBER, _NUMBER, st.integers(0, 127), _NUMBER, _INFLECTIONS),
    st.builds(NoteOff, _ID, _NUMBER, _NUMBER),
    st.builds(
        Status,
        *(_NUMBER, st.booleans(), _WORD, _ID, st.integers(0, 65535), _NUMBER, _NUMBER, st.booleans()),
        *(_NUMBER, _NUMBER, _ID, st.none() | st.floats(0.0)),
    ),
    st.builds(Saying, _WORD),
    st.builds(TappedTempo, _NUMBER, _NUMBER),
    st.builds(ClicksBack, _NUMBER),
    st.builds(TakeStopped, _NUMBER, _WORD),
    _COMMANDS,
)


@given(_RECORDS)
def test_every_record_comes_back_as_it_was(record: Record) -> None:
    """Encoding and decoding give the very same record, within the room that a slot has."""
    data = encode(record)
    assert len(data) <= RECORD_BYTES
    assert decode(data) == record


@given(st.text(st.characters(codec="utf-8", exclude_characters="\0")))
def test_a_long_word_is_cut_between_characters(text: str) -> None:
    """What is too long loses its end, never half a character."""
    record = decode(encode(Saying(text)))
    assert isinstance(record, Saying)
    assert text.startswith(record.text)
    assert len(text.encode()) <= 200 or len(record.text.encode()) > 196


@given(st.binary(max_size=RECORD_BYTES))
def test_anything_else_is_refused(data: bytes) -> None:
    """Bytes that are no record raise ValueError, and nothing else, unless they happen to be one."""
    try:
        record = decode(data)
    except ValueError:
        return
    assert isinstance(record, Record)


def test_an_event_is_no_command() -> None:
    """What comes from the keyboard's side must be a command."""
    assert decode_command(encode(Arm())) == Arm()
    with pytest.raises(ValueError, match="not a command"):
        decode_command(encode(Saying("hello")))


@pytest.mark.parametrize("data", [b"", b"\xff", b"\x01", encode(Panic()) + b"\0"])
def test_an_unknown_kind_or_length_is_refused(data: bytes) -> None:
    """Nothing, an unknown kind, too few and too many bytes are no record."""
    with pytest.raises(ValueError, match="not a record"):
        decode(data)
