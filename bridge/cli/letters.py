"""Large letters for the name of the harp: three rows of text high, drawn with half blocks, or six rows high."""

from __future__ import annotations

#: Six rows of picture points a letter, the letters that names of harps are made of. Ours.
_GLYPHS: dict[str, tuple[str, ...]] = {
    "A": (".##.", "#..#", "#..#", "####", "#..#", "#..#"),
    "B": ("###.", "#..#", "###.", "#..#", "#..#", "###."),
    "C": (".###", "#...", "#...", "#...", "#...", ".###"),
    "D": ("###.", "#..#", "#..#", "#..#", "#..#", "###."),
    "E": ("####", "#...", "###.", "#...", "#...", "####"),
    "F": ("####", "#...", "###.", "#...", "#...", "#..."),
    "G": (".###", "#...", "#...", "#.##", "#..#", ".###"),
    "b": ("#...", "#...", "###.", "#..#", "#..#", "###."),
    "#": (".#.#.", "#####", ".#.#.", ".#.#.", "#####", ".#.#."),
    "-": ("...", "...", "###", "...", "...", "..."),
    "l": ("#.", "#.", "#.", "#.", "#.", "##"),
    "o": ("....", "....", ".##.", "#..#", "#..#", ".##."),
    "w": (".....", ".....", "#...#", "#.#.#", "#.#.#", ".#.#."),
    "h": ("#...", "#...", "###.", "#..#", "#..#", "#..#"),
    "i": ("#", ".", "#", "#", "#", "#"),
    "g": (".###", "#..#", "#..#", ".###", "...#", "###."),
}
_HALVES = {"..": " ", "#.": "▀", ".#": "▄", "##": "█"}
ROWS = 3


def large(text: str) -> list[str] | None:
    """``text`` as three rows; None when there is no large form of one of its letters."""
    points = _points(text)
    return points and [
        "".join(_HALVES[upper + lower] for upper, lower in zip(points[row], points[row + 1], strict=True))
        for row in range(0, 2 * ROWS, 2)
    ]


def huge(text: str) -> list[str] | None:
    """``text`` as six rows, twice as wide as :func:`large`; None when there is no large form of one of its letters."""
    points = _points(text)
    return points and ["".join("██" if point == "#" else "  " for point in row) for row in points]


def _points(text: str) -> list[str] | None:
    """The picture points of ``text``, a row of letters below the other, one column between two letters."""
    if not text or any(letter not in _GLYPHS for letter in text):
        return None
    return [".".join(_GLYPHS[letter][row] for letter in text) for row in range(2 * ROWS)]
