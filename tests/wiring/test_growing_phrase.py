"""The search for the harp while a phrase grows: many looks at it, and no answer that is sure and wrong.

The phrases are made up, so that their harp is known, and heard exactly as they are written.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from bridge.base.events import NoteOff
from bridge.study.likely_harp import Likely
from bridge.wiring.asking import Asking
from bridge.wiring.chain import Chain
from bridge.wiring.live_search import HarpSearch
from bridge.wiring.settings import load_settings
from follow.tones import RATE
from sounds.phrases import make_phrase
from sounds.scores import Score
from study.heard import heard_events

SETTINGS = load_settings(flags={"harp.key": "auto"})
KEYS = ("C", "G", "A", "E", "F", "Bb", "B", "D", "F#", "Ab")
#: Seed, key and position of phrases of which one look on the way is sure of another harp.
MISLEADING = ((1021, "E", 2), (1052, "B", 1), (1135, "Bb", 3), (1185, "C", 2))
PHRASES = (*MISLEADING, *((2000 + number, KEYS[number % 10], (1, 2, 2, 3)[number % 4]) for number in range(26)))


def searched(score: Score) -> tuple[Chain, list[str]]:
    """The chain at the end of the last note of the score, and what was told; a rest is attended when it ends."""
    chain = Chain(SETTINGS, RATE)
    said: list[str] = []
    search = HarpSearch(chain, Asking[Likely | None](), said.append)
    for number, note in enumerate(score):
        end_s = note.start_s + note.length_s
        for event in heard_events(number, score):
            chain._now_s = event.time_s
            chain._tell(event)
            if isinstance(event, NoteOff):
                search.attend()
                search.attend()
        chain._now_s = score[number + 1].start_s if number + 1 < len(score) else end_s
        # Once to ask, and once for the answer.
        search.attend()
        search.attend()
    return chain, said


@pytest.mark.parametrize(("seed", "key", "position"), PHRASES)
def test_no_look_at_a_growing_phrase_is_sure_and_wrong(seed: int, key: str, position: int) -> None:
    """Whatever is told as found is the harp it was played on; what is taken for want of better is told as uncertain."""
    chain, said = searched(make_phrase(seed, key, position, riffs=7).score)
    found = [line for line in said if line.startswith("Found: ")]
    assert len(found) <= 1
    if found:
        assert (chain.harp.key, chain.harp.position) == (key, position)
        assert said[-1] == found[0]
    elif not chain.held.sought:
        assert "taken as the first" in " ".join(said)


def test_a_phrase_without_a_rest_tells_the_harp_too() -> None:
    """Who plays on without a breath is heard all the same: as long as nothing is sent nothing can be cut."""
    start_s, notes = 0.2, []
    for note in make_phrase(2003, "D", 3, riffs=10).score:
        notes.append(replace(note, start_s=start_s))
        start_s += note.length_s + 0.02
    chain, said = searched(tuple(notes))
    assert not chain.held.sought
    assert said[1].startswith(("Found: ", "Not sure yet: ", "Uncertain "))
