"""``--harp auto`` and ``--tune auto`` of a recording: its harp and its A4, found from the recording itself."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from bridge.harp.settings import AUTO
from bridge.study.zero import Drift, Zero
from bridge.wiring.finding import find_harp, find_tuning, hear_pitches, on_found, tuned_to
from bridge.wiring.harp_words import likely_words, told_by
from bridge.wiring.settings import Settings


def with_what_is_found(file: Path, settings: Settings, progress: Callable[[float], None]) -> tuple[Settings, list[str]]:
    """The settings with the harp and the A4 that they leave to be found, and a line for each; as they are for none.

    Raises SoundError for a recording that cannot be used, UserError when it holds too few notes to tell the harp.
    """
    unknown = settings.harp.key == AUTO
    if not unknown and settings.harp.tune != AUTO:
        return settings, []
    held = hear_pitches(file, settings, progress)
    lines = []
    if unknown:
        likely = find_harp(held, settings)
        settings = on_found(settings, likely)
        lines.append(f"  {likely_words(likely)}")
    tuning = find_tuning(held, settings)
    if isinstance(tuning, Drift) or (tuning is not None and not unknown):
        settings = tuned_to(settings, tuning)
    if isinstance(tuning, Drift) or not unknown:
        lines.append(f"  {_tuning_words(tuning, settings)}")
    return settings, lines


def _tuning_words(found: Zero | Drift | None, settings: Settings) -> str:
    """Which A4 was taken and what told it."""
    if found is None:
        return f"A4 stays {settings.harp.a4_hz:.1f} Hz: no straight reed was held that tells another"
    if isinstance(found, Zero):
        return f"tuned: A4 {found.a4_hz:.1f} Hz, {told_by(found)}"
    every = [hz for _, hz in found.a4]
    way = f"between {min(every):.1f} and {max(every):.1f} Hz, {every[0]:.1f} at first and {every[-1]:.1f} at last"
    return f"drifts by {found.cents:.0f} cents: A4 {way}, {told_by(found)} at any moment; the root follows it"
