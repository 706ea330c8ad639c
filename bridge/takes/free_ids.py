"""Ids for notes that are added to a take."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from itertools import chain, count

from bridge.takes.tables import MOST_ID


def free_ids(used: Collection[int]) -> Iterator[int]:
    """Ids that are not ``used``: those after the greatest, as long as a table may hold them, then the lowest free."""
    held = set(used)
    after = range(max(held, default=0) + 1, MOST_ID + 1)
    return chain(after, (number for number in count(1) if number not in held))
