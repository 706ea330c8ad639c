"""Pages that are sent by mail: one file each, with pictures, sound and words, that asks nothing of any network.

What is shown are the frozen values here; the templates beside this file (``sheet/``) say how. Every text is escaped
when it is put in, wherever it comes from, and a policy in the page lets nothing run or load that is not written here:
style and script are known to it by their hash (Content Security Policy Level 3), sound comes out of the page itself.
"""

from __future__ import annotations

import base64
import hashlib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from bridge import __version__
from bridge.study.comparison_words import Row
from bridge.web.clips import Clip
from bridge.web.third_map import HEIGHT, WIDTH, ThirdMap

_FOLDER = Path(__file__).parent / "sheet"


@dataclass(frozen=True, slots=True)
class Figure:
    """One note as picture and sound: ``id`` is its own in the page; ``words`` say what is seen, ``label`` what sounds.

    The sound begins at ``x`` of the picture and moves on by ``per_second``, both in its units.
    """

    id: str
    caption: str
    label: str
    words: str
    map: ThirdMap
    clip: Clip
    x: float
    per_second: float


@dataclass(frozen=True, slots=True)
class Player:
    """Who played: the name of the file, and the harp it was heard on."""

    name: str
    harp: str


@dataclass(frozen=True, slots=True)
class SharedThird:
    """One third of the teacher's beside the student's, None where there is none."""

    title: str
    teacher: Figure
    student: Figure | None
    rows: tuple[Row, ...]
    words: str


@dataclass(frozen=True, slots=True)
class CompareSheet:
    """All that the page of a comparison says."""

    teacher: Player
    student: Player
    notices: tuple[str, ...]
    advice: str
    thirds: tuple[SharedThird, ...]
    others: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One of the four ways: what it is, in a sentence, and what is heard and seen here."""

    title: str
    sentence: str
    heard: str
    figure: Figure


@dataclass(frozen=True, slots=True)
class ExplainSheet:
    """All that the page of the four ways says."""

    harp: str
    places: str
    source: str
    root: Clip
    entries: tuple[Entry, ...]


def compare_page(sheet: CompareSheet, cautions: tuple[str, ...]) -> str:
    """The page of a comparison, HTML; the first of ``cautions`` stands above all sound, the others at the end."""
    return _page("compare", sheet, cautions)


def explain_page(sheet: ExplainSheet, cautions: tuple[str, ...]) -> str:
    """The page of the four ways, HTML; the first of ``cautions`` stands above all sound, the others at the end."""
    return _page("explain", sheet, cautions)


def _page(name: str, sheet: CompareSheet | ExplainSheet, cautions: tuple[str, ...]) -> str:
    style, script = ((_FOLDER / f"sheet.{kind}").read_text(encoding="utf-8") for kind in ("css", "js"))
    return (
        _environment()
        .get_template(f"{name}.html")
        .render(
            sheet=sheet,
            key=name,
            cautions=cautions,
            version=__version__,
            width=round(WIDTH),
            height=round(HEIGHT),
            policy=_policy(style, script),
            # Our own files, not anybody's words.
            style=Markup(style),  # noqa: S704
            script=Markup(script),  # noqa: S704
        )
    )


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(_FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["n"] = _number
    return environment


def _number(value: float) -> str:
    """A number of the picture as short as it can be."""
    return f"{value:.1f}".removesuffix(".0")


def _policy(style: str, script: str) -> str:
    """What the page may do: show this style, run this script, play sound that it holds."""
    return (
        f"default-src 'none'; style-src {_hash(style)}; script-src {_hash(script)}; "
        "media-src data:; img-src data:; base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
