"""What a synth of many channels makes of the breath in a zone: fluidsynth's level and pitch, as Praat hears it.

Source: SoundFont 2.04, 8.4, default modulators: channel pressure moves a vibrato, controller 11 the attenuation.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from bridge.base.events import Inflection, NoteOff, NoteOn
from bridge.send.midi_output import MidiOutput
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from main_job.test_round_trip_midi import RATE, _sung, _Wire
from sounds.praat import praat_curve

NOTE, BEGINS_S, ENDS_S = 71, 0.1, 2.0


def _held(settings: MidiSettings, breath: float, folder: Path) -> tuple[float, float]:
    """Level in dB and how far the pitch moves, in cents, of a note held with one breath."""
    wire = _Wire()
    output = MidiOutput(settings, SentPitch(), wire)
    output.open()
    wire.now_s = BEGINS_S
    still = Inflection(1, BEGINS_S, BEGINS_S, 0.0, "3", 0.0, 0.0, breath, 0.5)
    output.send(NoteOn(1, BEGINS_S, BEGINS_S, NOTE, 0.7, still))
    wire.now_s = ENDS_S
    output.send(NoteOff(1, ENDS_S, ENDS_S))
    output.close()
    # The vibrato of a sound font begins a while after the note.
    settled = _sung(wire.sent, folder)[round(0.6 * RATE) : round((ENDS_S - 0.2) * RATE)]
    _, hz = praat_curve(settled.astype(np.float32), RATE, 300.0, 800.0)
    cents = 1200.0 * np.log2(hz[hz > 0.0])
    assert len(cents) > 50
    level_db = 10.0 * np.log10(np.mean(settled**2))
    return float(level_db), float(np.quantile(cents, 0.95) - np.quantile(cents, 0.05))


def test_on_its_controller_the_breath_moves_the_level_and_not_the_pitch(tmp_path: Path) -> None:
    """Half the breath is softer by some 12 dB (20 * log10(4), since the attenuation is concave), and no note wavers."""
    settings = MidiSettings(mode="mpe", mpe_breath="controller")
    (loud_db, loud_moves), (soft_db, soft_moves) = (_held(settings, breath, tmp_path) for breath in (1.0, 0.5))
    assert abs(loud_db - soft_db - 12.0) < 1.0
    assert max(loud_moves, soft_moves) < 5.0


def test_as_pressure_the_breath_makes_the_voice_waver(tmp_path: Path) -> None:
    """The reason for the controller: every note is equally loud, and wavers with the breath."""
    settings = MidiSettings(mode="mpe")
    (loud_db, loud_moves), (soft_db, soft_moves) = (_held(settings, breath, tmp_path) for breath in (1.0, 0.5))
    assert abs(loud_db - soft_db) < 1.0
    assert loud_moves > soft_moves > 20.0
