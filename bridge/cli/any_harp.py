"""``--harp auto``: the harp of a recording, found from the recording itself."""

from __future__ import annotations

from bridge.base.errors import UserError
from bridge.harp.positions import position_name
from bridge.study.likely_harp import Candidate, Likely
from bridge.wiring.settings import Settings

#: What is said instead of a key.
AUTO = "auto"


def require_nothing_else(harp_file: str | None, position: str | None, a4: str | None) -> None:
    """Raise UserError when something is named that is to be found."""
    named = {"--harp-file": harp_file, "--position": position, "--a4": a4}
    for option, value in named.items():
        if value is not None:
            raise UserError(f"--harp auto finds key, position and A4 itself: leave {option} out, or name the key.")


def on_found(settings: Settings, found: Likely) -> Settings:
    """The settings with the harp that was found."""
    harp = {"key": found.key, "position": found.position, "a4_hz": round(found.a4_hz, 2), "file": None, "harps": ()}
    return settings.model_copy(update={"harp": settings.harp.model_copy(update=harp)})


def found_line(found: Likely) -> str:
    """What was found, how surely, and what else it may be."""
    name = f"{found.key} harp, {position_name(found.position)} position"
    a4 = f"A4 {found.a4_hz:.1f} Hz, give or take {found.a4_spread_cents:.0f} cents"
    if found.sure:
        return f"  found: {name} ({_percent(found.certainty)} sure), {a4}; next {_named(found.runner_up)}"
    either = f"{name} ({_percent(found.certainty)}) or {_named(found.runner_up)}"
    return f"  uncertain which harp: {either}; taken as the first, {a4}. Name the key if it is another."


def _named(other: Candidate) -> str:
    return f"{other.name} ({_percent(other.certainty)})"


def _percent(certainty: float) -> str:
    # Never 100: there is no such certainty.
    return f"{min(99, round(100.0 * certainty))} %"
