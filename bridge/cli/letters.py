"""Large letters for the name of the harp, drawn with half blocks: three rows of text high."""

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
    if not text or any(letter not in _GLYPHS for letter in text):
        return None
    points = [" ".join(_GLYPHS[letter][row] for letter in text).replace(" ", ".") for row in range(2 * ROWS)]
    return [
        "".join(_HALVES[upper + lower] for upper, lower in zip(points[row], points[row + 1], strict=True))
        for row in range(0, 2 * ROWS, 2)
    ]
