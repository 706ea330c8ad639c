"""``reedwire explain`` as it is typed: by the model tone in the player's key, and from somebody's own playing."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import soundfile

from bridge.capture.player import PlayedNote, perform
from cli.commands import run_here
from sounds.rehearsed import RATE, harp_hz


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def shown(page: str) -> list[str]:
    """What is said of each of the four, in order."""
    return re.findall(r"<p>Heard: ([^<]*)</p>", page)


def sources(page: str) -> list[str]:
    """Where each of the four is from, in order."""
    return re.findall(r"<figcaption>([^<]*)</figcaption>", page)


def save(name: str, *bends: tuple[tuple[float, float], ...]) -> None:
    """Thirds on a C harp bent like this (seconds, cents from straight), of 1.4 s each."""
    third_hz = harp_hz("C", 440.0)[0] * 2.0 ** (400.0 / 1200.0)
    notes = [PlayedNote(0.3 + 2.0 * place, 1.4, third_hz, bend) for place, bend in enumerate(bends)]
    soundfile.write(name, perform(notes, RATE, 3).samples, RATE)


HELD = ((0.0, 0.0),)
MINOR = ((0.0, -100.0),)
BLUE = ((0.0, -55.0),)
RELEASED = ((0.4, -85.0), (0.9, 0.0))


@pytest.mark.parametrize(
    ("key", "places"),
    [
        ("C", "The root is G, draw 2; its straight third B, draw 3, 400 cents above it."),
        ("low-F", "The root is C, draw 2; its straight third E, draw 3, 400 cents above it."),
        ("high-G", "The root is D, draw 2; its straight third F#, draw 3, 400 cents above it."),
    ],
)
def test_a_model_tone_sings_all_four(
    key: str, places: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the player's key: what is heard of each model is what it is named for."""
    status, out, err = run_here(capsys, monkeypatch, "explain", "--harp", key)
    assert (status, err) == (0, "")
    assert out.startswith("Wrote explained.html (")
    page = Path("explained.html").read_text("utf-8")
    assert places in page
    straight, minor, blue, released = shown(page)
    assert straight.startswith("began straight; steady within 1 cent; one hole.")
    assert minor.startswith("began minor; steady within 1 cent")
    assert blue.startswith("began 50 cents under straight, blue")
    assert re.search(r"began 8\d cents under straight(, blue)?; let go .*settled after .*: straight", released)
    assert page.count("data:audio/mpeg") == 5


def test_what_is_in_the_playing_is_shown_from_it(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """All four from a recording; where one is missing the model tone sings it, and that is said."""
    save("mine.wav", BLUE, RELEASED, HELD, MINOR)
    status, out, _ = run_here(capsys, monkeypatch, "explain", "--from", "mine.wav", "--harp", "C")
    assert status == 0
    assert "model" not in out
    page = Path("explained.html").read_text("utf-8")
    assert "From mine.wav." in page
    assert sources(page) == ["From mine.wav"] * 4
    save("two.wav", HELD, RELEASED)
    status, out, _ = run_here(capsys, monkeypatch, "explain", "--from", "two.wav", "--overwrite")
    assert "No third of two.wav is minor: a model tone sings it." in out
    assert "No third of two.wav is blue: a model tone sings it." in out
    page = Path("explained.html").read_text("utf-8")
    assert "From two.wav; minor and blue are not in it and sung by a model tone." in page
    assert sources(page) == ["From two.wav", "A model tone", "A model tone", "From two.wav"]


def test_what_cannot_be_explained_is_told(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """A page that is there, no playing to find a harp in, a key that there is not."""
    Path("explained.html").write_text("mine", "utf-8")
    for words, complaint in (
        ((), "is there already, and was not touched"),
        (("--out", "new.html", "--harp", "auto"), "name its key with --harp"),
        (("--out", "new.html", "--harp", "H"), "--harp: found 'H'"),
        (("--out", "new.html", "--from", "missing.wav"), "missing.wav: does not exist"),
    ):
        status, _, err = run_here(capsys, monkeypatch, "explain", *words)
        assert status == 2, words
        assert complaint in " ".join(err.split()), words
    assert Path("explained.html").read_text("utf-8") == "mine"


def test_where_no_reed_gives_the_major_third_that_is_said(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """In third position the third over the root is a minor reed: no page may speak of a straight one that is there."""
    words = ("explain", "--harp", "low-F", "--position", "third", "--out", "third.html")
    assert run_here(capsys, monkeypatch, *words)[0] == 0
    page = " ".join(Path("third.html").read_text("utf-8").split())
    assert "No reed gives its major third B in this position: 400 cents above the root count as straight" in page
    assert "the minor third Bb, draw 5, as fully flattened" in page
    assert "as the reed gives it" not in page
    assert "straight third B" not in page
    assert "What would be the straight third" in page
