"""What is commonly played on a ten-hole harp in first, second and third position (common practice, no source).

Written as hole and air (``4d`` = hole 4 drawn), with ``'`` for each semitone bent and ``~`` for a third that is begun
low and released part of the way.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Riffs:
    """What is played in one register of one position, and its roots and fifths, on which phrases end."""

    riffs: tuple[str, ...]
    roots: tuple[str, ...]
    fifths: tuple[str, ...]


def _riffs(riffs: str, roots: str, fifths: str) -> Riffs:
    return Riffs(tuple(riff.strip() for riff in riffs.split(",")), tuple(roots.split()), tuple(fifths.split()))


#: By position and register.
RIFFS = {
    (1, "low"): _riffs(
        "1b 1d 2b 1b, 2b 2d'' 2d 2b 1b, 2d 3d'' 3d 4b, 1b 2b 2d 3d'' 2d 4b, 4b 3d 3d'' 2d 2b 1b, "
        "2b 2b 1d 1b, 3b 4b 4d 4b, 4b 3d 4b 2d 2b, 1b 1d' 1d 1b",
        roots="1b 4b",
        fifths="2d 3b",
    ),
    (1, "middle"): _riffs(
        "4b 4d 5b 5d 6b, 6b 5b 4d 4b, 5b 5d 6b 6d 6b, 7b 7d 6d 6b 5b, 5b 4b 5b 6b, 6b 6b 6d 6b 7b, "
        "6d 6b 5d 5b 4d 4b, 6b 6d 7d 7b, 4d 5d 4d 4b",
        roots="4b 7b",
        fifths="6b 3b",
    ),
    (1, "high"): _riffs(
        "8b 8b' 8d 7b, 9b 9b' 8b 8d 7b, 10b 10b'' 9b 8b, 7b 8d 8b 9b, 9b 9b 9b' 8b 7b, "
        "8b 9d 9b 8b 8b' 7b, 10b 9d 8b 8b' 7b",
        roots="7b",
        fifths="9b",
    ),
    (2, "low"): _riffs(
        "2d 3d~ 4d, 4d 4b 3d~ 2d, 2d 2d'' 1d 2d, 1d 2d 3d~ 2d, 3d~ 4b 4d, 4d' 4b 3d~ 2d, 3d' 3d~ 2d, "
        "4d 5d 4d 4b 3d~, 2d 3d' 4b 3d' 2d, 2b 2d 3d 4d, 6b 5d 4d 4b, 3d~ 3d~ 3d~ 2d, 4d 5d 4d 5d 4d, "
        "1d' 1d 2d'' 2d, 6b 6d 6b 5d 4d",
        roots="2d 3b",
        fifths="1d 4d",
    ),
    (2, "high"): _riffs(
        "6b 5d 6b 6d 7d 8d, 9b 9d 8d 7d 6b, 6d 6b 5d 4d, 8d 9d 9b, 6b 5d 6b 6d', 7d 6d 6b 5d 6b, "
        "8d 7b 6d 6b, 9b 9b' 9d 8d",
        roots="6b 9b",
        fifths="4d 8d",
    ),
    (3, "middle"): _riffs(
        "4d 5d 6d, 6d 6b 5d 4d, 4d 5d 6b 6d 7b, 6d' 6b 5d 4d, 4d 5b 5d 4d, 5d 6d 7b 8d, 7b 6d 6b 5d, 4b 4d 5d 4d",
        roots="4d",
        fifths="6d",
    ),
    (3, "low"): _riffs(
        "1d 2d'' 2d, 4d 4b 3d'' 2d, 2d 3d'' 4b 4d, 3d'' 2d 2d'' 1d, 4d 5d 4d 4b 3d'', 4d 5d 6d 5d 4d, 1d 2b 2d'' 1d",
        roots="1d 4d",
        fifths="3d''",
    ),
    (3, "high"): _riffs(
        "8d 7b 6d 6b 5d 4d, 8d 9d 10d 9d 8d, 8d 8b 9d 8d, 6d 7b 8d 9d 8d, 9d 9b 9d 8d, 10d 9b 9d 8d, 7d 7b 8d",
        roots="8d",
        fifths="6d 10d",
    ),
}
