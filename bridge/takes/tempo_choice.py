"""Which tempo a take has: the one that was asked for, tapped, or estimated when it ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bridge.study.tempo_estimate import estimate_tempo
from bridge.takes.edited import Tempo
from bridge.takes.settings import TakeSettings
from bridge.takes.tempo import Origin, as_told, tempo_facts


@dataclass(frozen=True, slots=True)
class KnownTempo:
    """A tempo, how it is known, and of an estimate how sure it is, 0..1."""

    tempo: Tempo
    known_from: Origin
    sure: float | None = None

    @property
    def told(self) -> Tempo:
        """The tempo as exactly as ``take.yaml`` tells it."""
        return as_told(self.tempo)

    def facts(self) -> dict[str, object]:
        """What ``take.yaml`` says of it."""
        return tempo_facts(self.tempo, self.known_from, self.sure)


def tempo_at_beginning(settings: TakeSettings) -> KnownTempo | None:
    """What is known before anything is played; until the first note bar 1 stands at 0 where it was not asked for."""
    if settings.tempo is None or settings.tempo == "auto":
        return None
    return KnownTempo(Tempo(settings.tempo, settings.bar_1_s or 0.0, settings.quarters_in_bar), "option")


def tempo_at_end(settings: TakeSettings, known: KnownTempo | None, starts_s: Sequence[float]) -> KnownTempo | None:
    """What is known once all notes have begun, at ``starts_s`` in order; what was tapped counts most."""
    if known is not None and (known.known_from == "tap" or settings.bar_1_s is not None or not starts_s):
        return known
    if known is not None:
        tempo = Tempo(known.tempo.quarters_per_minute, starts_s[0], known.tempo.quarters_in_bar)
        return KnownTempo(tempo, known.known_from)
    found = estimate_tempo(starts_s) if settings.tempo == "auto" else None
    if found is None:
        return None
    bar_1_s = found.first_beat_s if settings.bar_1_s is None else settings.bar_1_s
    return KnownTempo(Tempo(found.quarters_per_minute, bar_1_s, settings.quarters_in_bar), "estimate", found.sure)
