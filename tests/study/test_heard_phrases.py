"""The most likely harp of phrases that are played as sound and heard by the real follower and quantiser."""

from __future__ import annotations

import math

import pytest

from bridge.study.likely_harp import Likely, likely_harp
from sounds.phrases import Phrase, make_phrases, rehearsed_phrase, sampled_phrase
from study.heard import by_the_chain, exactly

#: Every seventh of the phrases is heard, two in each position, in turn on the two voices.
PHRASES, EVERY = 36, 7


@pytest.fixture(scope="module")
def heard() -> list[tuple[Phrase, Likely]]:
    """Phrases with the harp that their sound was taken for, nothing of the harp being known."""
    made = make_phrases(PHRASES, riffs=6)[::EVERY]
    sounds = [(sampled_phrase, rehearsed_phrase)[index % 2](phrase) for index, phrase in enumerate(made)]
    return [(phrase, likely_harp(by_the_chain(sound))) for phrase, sound in zip(made, sounds, strict=True)]


def test_a_phrase_that_is_heard_is_found(heard: list[tuple[Phrase, Likely]]) -> None:
    """Of six at most one is wrong, and that is marked uncertain."""
    wrong = [
        (phrase.name, found) for phrase, found in heard if (found.key, found.position) != (phrase.key, phrase.position)
    ]
    assert sorted(phrase.position for phrase, _ in heard) == [1, 1, 2, 2, 3, 3]
    assert len(wrong) <= 1, wrong
    assert not [found for _, found in wrong if found.sure]


def test_what_is_heard_tells_what_the_exact_pitches_tell(heard: list[tuple[Phrase, Likely]]) -> None:
    """Harp and position are those found from the exact pitches, the zero within 4 cents, the certainty within 0.15."""
    for phrase, found in heard:
        exact = likely_harp(exactly(phrase.score))
        assert (found.key, found.position) == (exact.key, exact.position)
        assert found.certainty == pytest.approx(exact.certainty, abs=0.15)
        assert 1200.0 * math.log2(found.a4_hz / exact.a4_hz) == pytest.approx(0.0, abs=4.0)
