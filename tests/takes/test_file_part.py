"""Parts of one file read side by side."""

from __future__ import annotations

from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.takes.file_part import BUFFER_BYTES, file_part

CONTENT = bytes(range(256)) * (3 * BUFFER_BYTES // 256)
PLACES = st.integers(0, len(CONTENT))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(PLACES, PLACES).map(sorted), min_size=1, max_size=4), st.integers(1, 2 * BUFFER_BYTES))
def test_each_part_is_its_bytes_whoever_reads_another(tmp_path: Path, places: list[list[int]], step: int) -> None:
    """In turn, a step each: as the slices of all the bytes are; beyond its end there is nothing."""
    path = tmp_path / "bytes"
    path.write_bytes(CONTENT)
    with path.open("rb") as file:
        parts = [file_part(file.fileno(), begin, end) for begin, end in places]
        read = [b""] * len(parts)
        while any(part.peek(1) for part in parts):
            read = [before + part.read(step) for before, part in zip(read, parts, strict=True)]
            assert [part.tell() for part in parts] == [len(data) for data in read]
        assert read == [CONTENT[begin:end] for begin, end in places]
        assert [part.read(1) for part in parts] == [b""] * len(parts)
        del parts
        assert file.read(1) == CONTENT[:1]
