"""Host, Origin, tokens and the policy.

Sources: OWASP ASVS 4 (14.5) and the WebSocket Security Cheat Sheet; Content Security Policy Level 3.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.web.guard import Guard, safe_headers
from web.board_room import TOKENS

GUARD = Guard(8350)


@pytest.mark.parametrize("host", ["127.0.0.1:8350", "localhost:8350", "LOCALHOST:8350"])
def test_the_board_answers_to_its_own_names(host: str) -> None:
    """This machine by its number and by its name, in any case of letters (RFC 9110, 4.2.3)."""
    assert GUARD.host_allowed(host)


@pytest.mark.parametrize(
    "host",
    [
        *(None, "", "localhost", "127.0.0.1", "localhost:80", "evil.example:8350", "127.0.0.1.evil.example:8350"),
        *("localhost:8350.evil.example", "127.0.0.1:8350@evil.example", "localhost:83500", "[::1]:8350", "127.1:8350"),
    ],
)
def test_any_other_name_is_refused(host: str | None) -> None:
    """Also one that a page elsewhere had lead to this machine (DNS rebinding), and without the port."""
    assert not GUARD.host_allowed(host)


@given(st.text())
def test_no_other_text_is_a_name(host: str) -> None:
    """Whatever is made up."""
    assert not GUARD.host_allowed(host)


@pytest.mark.parametrize(
    "origin",
    [
        *(
            None,
            "",
            "null",
            "http://evil.example",
            "https://localhost:8350",
            "http://localhost",
            "http://localhost:8350/",
        ),
        *("http://127.0.0.1:8350", "http://localhost:8350.evil.example", "file://", "http://localhost:8351"),
    ],
)
def test_only_the_page_itself_is_an_origin(origin: str | None) -> None:
    """Same scheme, name and port as what was asked for (RFC 6454, section 5)."""
    assert GUARD.origin_allowed("http://localhost:8350", "localhost:8350")
    assert not GUARD.origin_allowed(origin, "localhost:8350")


def test_who_may_do_what() -> None:
    """On the loopback everybody steers; elsewhere only who holds a token, and each token is for one thing."""
    assert GUARD.role(None) == GUARD.role("anything") == "teacher"
    guard = Guard(8350, tokens=TOKENS)
    assert guard.role(TOKENS.teacher) == "teacher"
    assert guard.role(TOKENS.viewer) == "viewer"
    for wrong in (None, "", TOKENS.viewer[:-1], TOKENS.teacher + "x", "\udcff", "é" * 1000, TOKENS.viewer.upper()):
        assert guard.role(wrong) is None


def test_the_policy_allows_this_page_and_nothing_else() -> None:
    """No inline code, no other origin, no frame around it."""
    headers = safe_headers("localhost:8350")
    policy = dict(part.strip().split(" ", 1) for part in headers["Content-Security-Policy"].split(";"))
    assert policy["default-src"] == policy["frame-ancestors"] == policy["base-uri"] == policy["form-action"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == "'self'"
    assert policy["connect-src"] == "'self' ws://localhost:8350"
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "no-referrer"


def test_the_opener_is_kept_out_where_a_browser_heeds_it() -> None:
    """On this machine; over plain http in a room each browser would only complain in its console."""
    for here in ("localhost:8350", "127.0.0.1:8350", "LOCALHOST:8350"):
        assert safe_headers(here)["Cross-Origin-Opener-Policy"] == "same-origin"
    assert "Cross-Origin-Opener-Policy" not in safe_headers("192.0.2.7:8350")
