"""What ``reedwire transcribe`` says of its settings: on which harp it hears, and what only works while playing."""

from __future__ import annotations

from pathlib import Path

from bridge.harp.settings import HarpSettings
from bridge.takes.settings import TakeSettings
from bridge.takes.tempo_choice import KnownTempo
from bridge.wiring.offline import told_length_s
from bridge.wiring.settings import Settings


def live_only_lines(settings: Settings) -> list[str]:
    """A line for each setting that would change the notes of a performance, and does nothing for a recording."""
    lines = []
    if settings.quantise.bleed.guard:
        lines.append(
            "quantise.bleed.guard does nothing for a recording: nobody knows what a synth was playing meanwhile."
        )
    if settings.quantise.steady_delay:
        lines.append("quantise.steady_delay does nothing for a recording: its notes stand where they begin.")
    if len(settings.harp.harps) > 1:
        first, *others = settings.harp.harps
        lines.append(
            f"Of a set of harps a recording is heard on the first, {first}; {', '.join(others)} would each need "
            "a transcription of its own."
        )
    return lines


def heard_on(name: str, harp: HarpSettings, *, said: bool, found: bool) -> str:
    """On which harp, ``name``, the notes are, and who says so.

    The user, who ``said`` it as an option, in a preset or in a harp file; the recording itself, in which it was
    ``found``; or nobody.
    """
    if found or harp.file is not None:
        return f"heard as {name}"
    if said or harp.harps or harp.key != HarpSettings().key:
        return f"heard as {name}, as told"
    return f"taken as {name} (--harp KEY for another, --harp auto to find it)"


def bar_warnings(settings: TakeSettings, file: Path) -> list[str]:
    """That ``file`` ends before bar 1, by what it says itself, before anybody waits for it; nothing where it does not.

    A file may be mistaken about its length, so it is no reason to refuse it.
    """
    if settings.tempo is None or settings.bar_1_s is None:
        return []
    length_s = told_length_s(file)
    if length_s is None or settings.bar_1_s <= length_s:
        return []
    late = f"bar 1 at {settings.bar_1_s:g} s is after its end at {length_s:.1f} s"
    return [f"{file}: {late}; stop it with Ctrl-C to give another."]


def bar_lines(settings: TakeSettings, seconds: float, folder: Path) -> list[str]:
    """That the take in ``folder`` ends, after so many ``seconds``, before its bar 1; nothing where it does not."""
    if settings.tempo is None or settings.bar_1_s is None or settings.bar_1_s <= seconds:
        return []
    return [f"  bar 1 at {settings.bar_1_s:g} s is after its end: reedwire rebuild {folder} --bar-1 TIME says another"]


def tempo_lines(settings: TakeSettings, known: KnownTempo | None) -> list[str]:
    """What was estimated, and how surely, where that was asked for."""
    if settings.tempo != "auto":
        return []
    if known is None or known.sure is None:
        return ["  tempo: none that is steady was found; --tempo N says it"]
    tempo = known.tempo
    sure = f"estimated, {100.0 * known.sure:.0f} % sure of the pulse, not of the bar"
    return [f"  tempo: {tempo.quarters_per_minute:.1f} quarters a minute, bar 1 at {tempo.bar_1_s:.2f} s ({sure})"]
