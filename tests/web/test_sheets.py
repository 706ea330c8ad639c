"""Pages that are mailed: every text escaped, nothing from outside, a policy whose hashes are those of what is in it."""

from __future__ import annotations

import base64
import hashlib
import re
from html.parser import HTMLParser

import pytest

from bridge.quantise.third import ThirdZone
from bridge.study.comparison_words import Row
from bridge.web.clips import Clip
from bridge.web.sheets import (
    CompareSheet,
    Entry,
    ExplainSheet,
    Figure,
    Player,
    SharedThird,
    compare_page,
    explain_page,
)
from bridge.web.third_map import Scale, third_map

ZONE = ThirdZone(400.0, 300.0, 350.0, 315.0, 365.0)
EVIL = "\"><script>alert(1)</script><img src=x onerror='alert(2)'>&amp;"
CLIP = Clip("data:audio/mpeg;base64,AAAA", 1.0, 0.1)


def figure(name: str) -> Figure:
    """A figure whose every word is hostile."""
    return Figure(name, EVIL, EVIL, EVIL, third_map(ZONE, Scale([ZONE], [])), CLIP, 3.0, 100.0)


def pages() -> dict[str, str]:
    """Both pages, made of hostile words."""
    third = SharedThird(EVIL, figure("t1"), figure("s1"), (Row(EVIL, EVIL, EVIL, EVIL),), EVIL)
    sheet = CompareSheet(Player(EVIL, EVIL), Player(EVIL, EVIL), (EVIL,), EVIL, (third,), EVIL)
    entry = Entry(EVIL, EVIL, EVIL, figure("way-1"))
    return {
        "compare": compare_page(sheet, (EVIL,)),
        "explain": explain_page(ExplainSheet(EVIL, EVIL, EVIL, CLIP, (entry,)), (EVIL,)),
    }


class Seen(HTMLParser):
    """Collects tags, their attributes, and the text of style and script."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.inside: dict[str, list[str]] = {"style": [], "script": []}
        self._open = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag."""
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        self._open = tag

    def handle_data(self, data: str) -> None:
        """Note what stands in style and script."""
        if self._open in self.inside:
            self.inside[self._open].append(data)

    def handle_endtag(self, tag: str) -> None:  # noqa: ARG002 -- the parser gives it
        """Whatever was open is not any more."""
        self._open = ""


@pytest.mark.parametrize("name", ["compare", "explain"])
def test_hostile_names_are_words_and_nothing_else(name: str) -> None:
    """A file called like a script is shown, and adds neither element nor attribute."""
    page = pages()[name]
    seen = Seen(page)
    assert "&lt;script&gt;alert(1)" in page
    assert seen.tags.count("script") == 1
    assert "img" not in seen.tags
    assert not [name for _, name, _ in seen.attributes if name.startswith("on") or name == "style"]


@pytest.mark.parametrize("name", ["compare", "explain"])
def test_nothing_comes_from_outside(name: str) -> None:
    """Every address in the page is one of its own data or places, and no import or url of a style leads out."""
    seen = Seen(pages()[name])
    addresses = [value for _, name, value in seen.attributes if name in {"src", "href", "action", "srcset"}]
    assert addresses
    assert all(address.startswith("data:") for address in addresses)
    assert not re.search(r"@import|url\(", "".join(seen.inside["style"]))
    assert {value for _, name, value in seen.attributes if name == "fill"} == {"url(#waves)", "url(#stones)"}


@pytest.mark.parametrize("name", ["compare", "explain"])
def test_the_policy_names_what_is_in_the_page(name: str) -> None:
    """The hashes of style and script as CSP defines them (W3C Content Security Policy Level 3, 2.3.1)."""
    seen = Seen(pages()[name])
    policy = next(
        value for tag, name, value in seen.attributes if (tag, name) == ("meta", "content") and "src" in value
    )
    for kind in ("style", "script"):
        digest = base64.b64encode(hashlib.sha256("".join(seen.inside[kind]).encode()).digest()).decode()
        assert f"{kind}-src 'sha256-{digest}'" in policy
    assert policy.startswith("default-src 'none';")
    assert "unsafe" not in policy


@pytest.mark.parametrize("name", ["compare", "explain"])
def test_every_id_is_there_once_and_every_button_plays_what_is_there(name: str) -> None:
    """What buttons and headings point to exists."""
    seen = Seen(pages()[name])
    ids = [value for _, name, value in seen.attributes if name == "id"]
    assert len(ids) == len(set(ids))
    for _, attribute, value in seen.attributes:
        if attribute in {"data-play", "aria-labelledby"}:
            assert set(value.split()) <= set(ids)
