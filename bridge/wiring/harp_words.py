"""What was found out of a harp, in words: which it is, how surely, what else it may be, and where its A4 lies."""

from __future__ import annotations

from bridge.harp.positions import position_name
from bridge.study.likely_harp import Candidate, Likely
from bridge.study.zero import Drift, Zero


def likely_words(found: Likely) -> str:
    """Which harp it is, the runner-up and the A4; that it is uncertain where it is."""
    return sure_words(found) if found.sure else uncertain_words(found)


def sure_words(found: Likely) -> str:
    """Which harp it is, how surely, the runner-up and the A4."""
    name = f"{found.key} harp, {position_name(found.position)} position"
    return f"found: {name} ({_percent(found.certainty)} sure), {_a4(found)}; next {_named(found.runner_up)}"


def uncertain_words(found: Likely) -> str:
    """Which two harps it may be, which of them is taken, and its A4."""
    return f"uncertain which harp: {either(found)}; taken as the first, {_a4(found)}. Name the key if it is another."


def either(found: Likely) -> str:
    """The likeliest harp and the runner-up."""
    likeliest = Candidate(found.key, found.position, found.certainty)
    return f"{_named(likeliest)} or {_named(found.runner_up)}"


def told_by(zero: Zero | Drift) -> str:
    """What an A4 was taken from, and how exactly it is known."""
    kind = "root" if zero.roots else "note"
    many = "" if zero.notes == 1 else "s"
    return f"from {zero.notes} straight {kind}{many}, give or take {in_cents(zero.spread_cents)}"


def in_cents(cents: float) -> str:
    """A whole number of cents in words, one at least."""
    whole = max(1, round(cents))
    return "1 cent" if whole == 1 else f"{whole} cents"


def _a4(found: Likely) -> str:
    return f"A4 {found.a4_hz:.1f} Hz, give or take {in_cents(found.a4_spread_cents)}"


def _named(other: Candidate) -> str:
    return f"{other.name} ({_percent(other.certainty)})"


def _percent(certainty: float) -> str:
    # Never 100: there is no such certainty.
    return f"{min(99, round(100.0 * certainty))} %"
