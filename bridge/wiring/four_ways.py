"""The third in four ways made into one page that can be sent: from somebody's playing, else sung by a model tone."""

from __future__ import annotations

from pathlib import Path

from bridge.base.units import hz_above
from bridge.capture.player import Performance, PlayedNote, perform
from bridge.capture.rehearsal import Rehearsal
from bridge.harp.harp import MAJOR_THIRD, Harp
from bridge.harp.note_names import letter
from bridge.harp.positions import root_semitones
from bridge.quantise.third import ThirdZone
from bridge.study.alignment import MarkedNote
from bridge.study.four_ways import Way, four_ways, shown_by
from bridge.study.mark_words import marks_words
from bridge.web.clips import Clip, clip, quiet_gain
from bridge.web.sheets import Entry, ExplainSheet, Figure, explain_page
from bridge.web.third_map import Played, Scale, third_map
from bridge.wiring.comparing import require_thirds
from bridge.wiring.drilling import zone_of
from bridge.wiring.harps import HeldHarp, harp_set
from bridge.wiring.playings import Playing, hear_source
from bridge.wiring.settings import Settings

_LEAD_S, _ROOT_S = 0.3, 2.0
#: Semitones above the root.
_MINOR_THIRD = 3
_SEED = 1


def explained(
    settings: Settings,
    tempo: float,
    cautions: tuple[str, ...],
    playing: Playing | None = None,
    path: Path | None = None,
) -> tuple[str, list[str]]:
    """The page (HTML) and the names of the ways that ``playing``, which came from ``path``, does not show.

    Without a playing all four are sung by a model tone, ``tempo`` beats a minute, on the harp of the settings. Raises
    UserError for a playing without thirds.
    """
    held = harp_set(settings.harp).harps[0] if playing is None else playing.held
    zone = zone_of(settings) if playing is None else playing.zone
    notes = [] if playing is None or path is None else require_thirds(playing, path)
    models = _Models(settings, held, zone, 60.0 / tempo)
    entries, missing = [], []
    for number, way in enumerate(four_ways(zone, reed=has_third(held.harp)), start=1):
        shown = shown_by(way, notes, zone, settings.study.near_cents)
        if playing is not None and shown is not None:
            entries.append(_entry(f"way-{number}", way, playing, shown, f"From {playing.name}"))
            continue
        missing.append(way.name.lower())
        model = models.sung(way)
        entries.append(_entry(f"way-{number}", way, model, model.notes[0], "A model tone"))
    source = f"From {playing.name}" if playing is not None and len(missing) < len(entries) else "Sung by a model tone"
    if source.startswith("From") and missing:
        source += f"; {' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} not in it and sung by a model tone"
    sheet = ExplainSheet(held.name, _places(held.harp, zone), f"{source}.", models.root(), tuple(entries))
    return explain_page(sheet, cautions), missing if playing is not None else []


class _Models:
    """A reed-like tone on the player's own harp: its third in the octave of its root, and the root itself."""

    def __init__(self, settings: Settings, held: HeldHarp, zone: ThirdZone, beat_s: float) -> None:
        self._settings = settings
        self._held = held
        self._zone = zone
        self._beat_s = beat_s

    def sung(self, way: Way) -> Playing:
        """One way as sound, heard like any other."""
        cents = self._zone.straight
        glide = tuple((beats * self._beat_s, height - cents) for beats, height in way.curve)
        note = PlayedNote(_LEAD_S, glide[-1][0], hz_above(self._held.harp.root_hz, cents), glide)
        with Rehearsal(self._performed(note)) as source:
            return hear_source(source, self._settings, "a model tone", self._held)

    def root(self) -> Clip:
        """The root as sound."""
        performance = self._performed(PlayedNote(_LEAD_S, _ROOT_S, self._held.harp.root_hz))
        samples = performance.samples
        return clip(samples, performance.rate, _LEAD_S, _LEAD_S + _ROOT_S, quiet_gain(samples))

    def _performed(self, note: PlayedNote) -> Performance:
        return perform([note], self._settings.capture.rate_hz, _SEED)


def _entry(name: str, way: Way, playing: Playing, note: MarkedNote, source: str) -> Entry:
    marks, played = note.marks, Played(note.frames, note.marks)
    scale = Scale([playing.zone], [played])
    sound = clip(
        playing.samples, playing.rate, marks.start_s, marks.start_s + marks.length_s, quiet_gain(playing.samples)
    )
    said = marks_words(marks, playing.zone)
    figure = Figure(
        name,
        source,
        way.name,
        f"Map of the third. {said}.",
        third_map(playing.zone, scale, played),
        sound,
        scale.x(-sound.note_s),
        scale.per_second,
    )
    return Entry(way.name, way.sentence, f"Heard: {said}.", figure)


def _places(harp: Harp, zone: ThirdZone) -> str:
    """Where root and third lie on the harp, by name and hole."""
    root, minor, third = (_place(harp, degree) for degree in (0, _MINOR_THIRD, MAJOR_THIRD))
    if has_third(harp):
        return f"The root is {root}; its straight third {third}, {zone.straight:.0f} cents above it."
    return (
        f"The root is {root}. No reed gives its major third {third} in this position: {zone.straight:.0f} cents above "
        f"the root count as straight, and the minor third {minor}{',' * (',' in minor)} as fully flattened."
    )


def has_third(harp: Harp) -> bool:
    """Whether a reed gives the major third above the root, unbent."""
    return harp.straight_reed(root_semitones(harp.position) + MAJOR_THIRD) is not None


def _place(harp: Harp, degree: int) -> str:
    """A note so many semitones above the root: its letter, and the hole whose reed gives it, if any does."""
    reed = harp.straight_reed(root_semitones(harp.position) + degree)
    name = letter(harp.root_midi + degree, harp.root_midi)
    return name if reed is None else f"{name}, {reed.air} {reed.hole}"
