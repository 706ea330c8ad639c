"""The A4 of a harp whose key and position are known, roughly: near enough for its straight notes to tell it exactly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from bridge.base.units import MIDI_A4_HZ, clip, hz_above
from bridge.harp.harp import Harp, make_harp
from bridge.harp.keys import find_key
from bridge.study.explaining import ZEROS, harp_chances
from bridge.study.held import Held, different_pitches

#: Beyond half a semitone it would be another key's harp.
MOST_CENTS = 50.0
#: Of fewer pitches than this nobody knows whether they are bent.
_LEAST_DIFFERENT = 3


def with_near_zero(held: Sequence[Held], harp: Harp) -> Harp:
    """``harp`` with the A4 that explains the pitches ``held`` best, from 50 cents below its own to 50 above.

    Bends and thirds are explained as what they are, so they move it little. A harp on which too few different pitches
    were held to tell bends by stays as it is; what was measured on one does not go over.
    """
    if different_pitches(held) < _LEAST_DIFFERENT:
        return harp
    beside = [replace(note, hz=note.hz * MIDI_A4_HZ / harp.a4_hz) for note in held]
    chances = harp_chances(beside, harp, [find_key(harp.key)])[0, :, harp.position - 1]
    cents = clip(float(chances @ ZEROS) / float(np.sum(chances)), -MOST_CENTS, MOST_CENTS)
    return make_harp(harp.key, harp.position, hz_above(harp.a4_hz, cents), harp.layout, harp.temperament)
