"""What ``take.yaml`` says of a part of a take, and of takes set one after another: what tells of a time moves along."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from math import floor

from bridge.takes.edited import Tempo
from bridge.takes.moving import DECIMALS

Facts = Mapping[str, object]


def cut_facts(document: Facts, from_s: float, to_s: float) -> dict[str, object]:
    """``harp``, ``harp_changes`` and ``left_out`` of what lies between two times of the take with this ``document``."""
    harps = list(_harps(document))
    begun = [facts for since_s, facts in harps if since_s <= from_s] or [harps[0][1]]
    return {
        "harp": begun[-1],
        "harp_changes": [_at(since_s - from_s, facts) for since_s, facts in harps if from_s < since_s < to_s],
        "left_out": list(_left_out(document, from_s, to_s)),
    }


def joined_facts(documents: Sequence[Facts], starts_s: Sequence[float]) -> dict[str, object]:
    """The same of several takes, each from its own place in seconds on; a harp that goes on is told once."""
    changes: list[dict[str, object]] = []
    left_out: list[dict[str, object]] = []
    held: Facts | None = None
    for document, start_s in zip(documents, starts_s, strict=True):
        for since_s, facts in _harps(document):
            if held is not None and facts != held:
                changes.append(_at(start_s + since_s, facts))
            held = facts
        left_out += _left_out(document, -start_s, float("inf"))
    return {"harp": next(_harps(documents[0]))[1], "harp_changes": changes, "left_out": left_out}


def cut_tempo(tempo: Tempo, from_s: float) -> Tempo:
    """The tempo of what begins at ``from_s``: the bar that is begun there, or the first one after it, is bar 1."""
    bar_s = tempo.quarters_in_bar * tempo.quarter_s
    bar_1_s = tempo.bar_1_s - from_s
    # Not by rounding a bar too early: a tenth of a millisecond is what take.yaml tells.
    passed = max(0, floor(-bar_1_s / bar_s + 1e-4 / bar_s))
    return replace(tempo, bar_1_s=bar_1_s + passed * bar_s)


def _harps(document: Facts) -> Iterator[tuple[float, dict[str, object]]]:
    """The harps and from when on each was played, in order; the facts without their time."""
    changes = document.get("harp_changes")
    told = [document.get("harp"), *(changes if isinstance(changes, list) else [])]
    for facts in told:
        plain = dict(facts) if isinstance(facts, Mapping) else {}
        yield _number(plain.pop("time_s", 0.0)), plain


def _at(time_s: float, facts: Facts) -> dict[str, object]:
    return {"time_s": round(time_s, DECIMALS), **facts}


def _left_out(document: Facts, from_s: float, to_s: float) -> Iterator[dict[str, object]]:
    """What was no playing between two times, counted from the first."""
    spans = document.get("left_out")
    for span in spans if isinstance(spans, list) else []:
        if not isinstance(span, Mapping):
            continue
        start_s, end_s = max(_number(span.get("start_s")), from_s), min(_number(span.get("end_s")), to_s)
        if start_s < end_s:
            yield {**span, "start_s": round(start_s - from_s, 3), "end_s": round(end_s - from_s, 3)}


def _number(value: object) -> float:
    return float(value) if isinstance(value, int | float) else 0.0
