"""Which harp a recording was played on: it is heard once without knowing the harp, then asked as a whole."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from bridge.base.events import Event
from bridge.base.units import midi_to_hz
from bridge.capture.sound_file import SoundFile
from bridge.harp.keys import KEYS
from bridge.study.held import held_pitches
from bridge.study.likely_harp import Likely, likely_harp
from bridge.wiring.chain import Chain
from bridge.wiring.harps import harp_in_hand
from bridge.wiring.settings import Settings

_BLOCK_S = 0.5
#: The deepest bend of any harp stays one note, semitones.
_BEND_RANGE = 12


def find_harp(path: Path, settings: Settings, progress: Callable[[float], None] = lambda _: None) -> Likely:
    """The most likely key, position and A4 of the harp in the recording ``path``; ``progress`` is told 0..1.

    Layout and temperament are those of the settings. Raises SoundError for a recording that cannot be used, UserError
    when it holds too few notes to tell.
    """
    rate = settings.capture.rate_hz
    chain = Chain(_for_any_harp(settings), rate, look_ahead=True)
    events: list[Event] = []
    chain.add_watcher(events.append)
    with SoundFile(path, rate, round(_BLOCK_S * rate)) as source:
        while (block := source.read(0.0)) is not None:
            chain.feed(block)
            if source.length_s:
                progress(min(1.0, chain.now_s / source.length_s))
        chain.finish()
        source.require_sound()
    return likely_harp(held_pitches(events), harp_in_hand(settings.harp))


def _for_any_harp(settings: Settings) -> Settings:
    """The settings with a floor below the lowest harp's lowest reed and room for any bend."""
    floor_hz = min(midi_to_hz(key.midi_note - 1, settings.harp.a4_hz) for key in KEYS)
    midi = settings.send.midi.model_copy(update={"bend_range": _BEND_RANGE})
    return settings.model_copy(
        update={
            "follow": settings.follow.model_copy(update={"floor_hz": floor_hz}),
            "quantise": settings.quantise.unhurried(),
            "send": settings.send.model_copy(update={"midi": midi}),
        }
    )
