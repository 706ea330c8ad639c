"""What a recording tells of its harp: it is heard once without knowing all of it, then asked as a whole."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from bridge.base.events import Event
from bridge.base.units import midi_to_hz
from bridge.capture.sound_file import SoundFile
from bridge.harp.keys import KEYS
from bridge.harp.settings import AUTO
from bridge.study.held import Held, held_pitches
from bridge.study.likely_harp import Likely, likely_harp
from bridge.study.near_zero import with_near_zero
from bridge.study.zero import Drift, Zero, find_drift, find_zero
from bridge.wiring.chain import Chain
from bridge.wiring.harps import harp_in_hand
from bridge.wiring.settings import Settings

_BLOCK_S = 0.5
#: The deepest bend of any harp stays one note, semitones.
_BEND_RANGE = 12


def hear_pitches(path: Path, settings: Settings, progress: Callable[[float], None] = lambda _: None) -> list[Held]:
    """The pitches held in the recording ``path``, in the order of time; ``progress`` is told 0..1.

    Raises SoundError for a recording that cannot be used.
    """
    rate = settings.capture.rate_hz
    chain = Chain(_for_listening(settings), rate, look_ahead=True)
    with SoundFile(path, rate, round(_BLOCK_S * rate)) as source:
        held = held_pitches(_said(chain, source, progress))
        source.require_sound()
    return held


def _said(chain: Chain, source: SoundFile, progress: Callable[[float], None]) -> Iterator[Event]:
    """All that the chain says of a recording, as it comes: of an hour it would be too much to keep."""
    said: list[Event] = []
    chain.add_learner(said.append)
    while (block := source.read(0.0)) is not None:
        chain.feed(block)
        yield from said
        said.clear()
        if source.length_s:
            progress(min(1.0, chain.now_s / source.length_s))
    chain.finish()
    yield from said


def find_harp(held: Sequence[Held], settings: Settings) -> Likely:
    """The most likely key, position and A4 of the harp on which these pitches were held.

    Layout and temperament are those of the settings. Raises UserError when they are too few notes to tell.
    """
    return likely_harp(held, harp_in_hand(settings.harp))


def on_found(settings: Settings, found: Likely) -> Settings:
    """The settings with the harp that was found."""
    harp = {"key": found.key, "position": found.position, "a4_hz": round(found.a4_hz, 2), "file": None, "harps": ()}
    return settings.model_copy(update={"harp": settings.harp.model_copy(update=harp)})


def find_tuning(held: Sequence[Held], settings: Settings) -> Zero | Drift | None:
    """Where these pitches put the A4 of the harp of the settings: one, or one that moves; None where none is told."""
    near = with_near_zero(held, harp_in_hand(settings.harp))
    return find_drift(held, near) or find_zero(held, near)


def tuned_to(settings: Settings, found: Zero | Drift) -> Settings:
    """The settings with the A4 that was found, that of its beginning where it moves."""
    drift = found.a4 if isinstance(found, Drift) else ()
    rounded = tuple((round(at_s, 1), round(a4_hz, 2)) for at_s, a4_hz in drift)
    a4_hz = rounded[0][1] if isinstance(found, Drift) else round(found.a4_hz, 2)
    return settings.model_copy(update={"harp": settings.harp.model_copy(update={"a4_hz": a4_hz, "drift": rounded})})


def _for_listening(settings: Settings) -> Settings:
    """The settings with room for any bend and, where the harp is not known, a floor below the lowest one's reed."""
    midi = settings.send.midi.on_one_channel().model_copy(update={"bend_range": _BEND_RANGE})
    update: dict[str, object] = {
        "quantise": settings.quantise.unhurried(),
        "send": settings.send.model_copy(update={"midi": midi}),
    }
    if settings.harp.key == AUTO:
        floor_hz = min(midi_to_hz(key.midi_note - 1, settings.harp.a4_hz) for key in KEYS)
        update["follow"] = settings.follow.model_copy(update={"floor_hz": floor_hz})
    return settings.model_copy(update=update)
