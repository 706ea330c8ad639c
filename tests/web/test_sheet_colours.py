"""What is drawn in the pages can be told from what it is drawn on (WCAG 2.2, 1.4.3 and 1.4.11), in both looks."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import bridge.web.sheets as module

CSS = (Path(module.__file__).parent / "sheet" / "sheet.css").read_text(encoding="utf-8")
LOOKS = {"light": 0, "dark": 1}
#: What, on what, and the least ratio: text 4.5, graphics 3.
PAIRS = [
    *(("ink", ground, 4.5) for ground in ("paper", "land", "rough", "water")),
    ("soft", "paper", 4.5),
    ("edge", "paper", 3.0),
    ("second", "paper", 3.0),
    *((line, ground, 3.0) for line in ("path", "model") for ground in ("paper", "land", "rough", "water")),
]


def colour(name: str, look: str) -> tuple[float, ...]:
    """A colour of the style sheet in that look, red, green and blue from 0 to 1."""
    found = re.findall(rf"--{name}: #([0-9a-f]{{6}});", CSS)
    assert len(found) == len(LOOKS)
    return tuple(part / 255.0 for part in bytes.fromhex(found[LOOKS[look]]))


def luminance(rgb: tuple[float, ...]) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2)."""
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in rgb)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize(("drawn", "ground", "least"), PAIRS)
def test_colours_are_far_enough_apart(drawn: str, ground: str, least: float, look: str) -> None:
    """Contrast ratio as WCAG 2.2 defines it."""
    one, other = sorted((luminance(colour(name, look)) for name in (drawn, ground)), reverse=True)
    assert (one + 0.05) / (other + 0.05) >= least
