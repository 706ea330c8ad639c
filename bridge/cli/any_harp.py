"""``--harp auto`` and ``--tune auto`` of a recording: its harp and its A4, found from the recording itself."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from bridge.base.errors import UserError
from bridge.harp.settings import AUTO
from bridge.study.zero import Drift, Zero
from bridge.wiring.finding import find_harp, find_tuning, hear_pitches, on_found, tuned_to
from bridge.wiring.harp_words import in_cents, likely_words, told_by
from bridge.wiring.harps import harp_set
from bridge.wiring.settings import Settings


def with_what_is_found(file: Path, settings: Settings, progress: Callable[[float], None]) -> tuple[Settings, list[str]]:
    """The settings with the harp and the A4 that they leave to be found, and a line for each; as they are for none.

    A harp that was measured is not tuned: its file knows better. Raises SoundError for a recording that cannot be used,
    UserError when it holds too few notes to tell the harp.
    """
    unknown = settings.harp.key == AUTO
    if not unknown and settings.harp.tune != AUTO:
        return settings, []
    measured = None if unknown else harp_set(settings.harp).harps[0].path
    if measured is not None:
        return settings, [f"  A4 stays as in {Path(measured).name}: a harp with a harp file is not tuned"]
    held = hear_pitches(file, settings, progress)
    lines = []
    if unknown:
        try:
            likely = find_harp(held, settings)
        except UserError as error:
            raise UserError(f"{file}: {error}") from error
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
        return f"tuned: A4 {found.a4_hz:.1f} Hz, {told_by(found)}{_roots_off(found)}"
    every = [hz for _, hz in found.a4]
    way = f"between {min(every):.1f} and {max(every):.1f} Hz, {every[0]:.1f} at first and {every[-1]:.1f} at last"
    told = f"{told_by(found)} at any moment; the root follows it{_roots_off(found)}"
    return f"drifts by {found.cents:.0f} cents: A4 {way}, {told}"


def _roots_off(found: Zero | Drift) -> str:
    """That the roots were not believed, if they were not."""
    if not found.roots_off_cents:
        return ""
    side = "above" if found.roots_off_cents > 0.0 else "under"
    apart = in_cents(abs(found.roots_off_cents))
    return f"; the roots lie {apart} {side} your other straight notes: bent, or a harp with its own tuning?"
