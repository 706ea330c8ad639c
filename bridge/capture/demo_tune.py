"""The tune of the demo: twelve bars in cross position, made up for this project, for the synthetic player.

Places and lengths are in beats from the start; pitches in cents above the root.
"""

from __future__ import annotations

from dataclasses import replace

from bridge.capture.passages import FIFTH, FOURTH, Passage, Tuning
from bridge.capture.player import Breath, Curve, PlayedNote
from bridge.capture.reed_tone import ReedVoice

BEATS_A_MINUTE = 92.0
BEATS_A_BAR = 4
BARS = 12

_BEAT_S = 60.0 / BEATS_A_MINUTE
_SEVENTH = 1000.0
_OCTAVE = 1200.0
_LOW_FIFTH = -500.0
_WARM = ReedVoice(fundamental=0.8, brightness=0.45)
_REEDY = ReedVoice(fundamental=0.35, brightness=0.6)


def demo_tune(tuning: Tuning) -> Passage:
    """Write the tune for that harp and position, about half a minute long."""
    tune = _Tune(tuning)
    tune.question()
    tune.answer()
    tune.fluttered_fourth()
    tune.tongued_thirds()
    tune.run_over_the_harp()
    tune.turn_home()
    return Passage("demo tune", tuple(tune.parts), BARS * BEATS_A_BAR * _BEAT_S + 1.0)


class _Tune:
    """Collects the notes; each method is one phrase and says in which bars it lies."""

    def __init__(self, tuning: Tuning) -> None:
        self.tuning = tuning
        self.parts: list[PlayedNote | Breath] = []

    def question(self) -> None:
        """Bars 1 and 2: up from the low fifth to a blue third that is let go, and home."""
        self.parts.append(Breath(0.05, 0.3, -52.0))
        self._plain(0.67, 0.30, _LOW_FIFTH)
        self._plain(1.0, 0.60, 0.0)
        self._blue(1.67, 1.9, depth=0.95, held_s=0.28, release_s=0.42)
        self._plain(3.67, 0.28, FOURTH)
        self._blue(4.0, 0.62, depth=0.8, held_s=0.2, release_s=0.15)
        self._shaken(4.67, 2.2, 0.0, glide=((0.0, -180.0), (0.11, 0.0)), cents_wide=15.0)

    def answer(self) -> None:
        """Bars 3 and 4: the straight third, plain; the fifth scooped and shaken; down again."""
        self._plain(8.67, 0.30, 0.0)
        self._plain(9.0, 0.62, self.tuning.straight_cents)
        self._plain(9.67, 0.30, FOURTH)
        self._shaken(10.0, 1.62, FIFTH, glide=((0.0, -110.0), (0.13, 0.0)))
        self._plain(11.67, 0.30, _SEVENTH)
        self._plain(12.0, 0.62, FIFTH)
        self._plain(12.67, 0.30, FOURTH)
        self._blue(13.0, 0.9, depth=1.0, held_s=0.35, release_s=0.15)
        self._shaken(14.0, 1.5, 0.0)

    def fluttered_fourth(self) -> None:
        """Bar 5 and half of bar 6: the fourth with fluttering hands, then the third held at the minor."""
        self.parts.append(replace(self._note(16.0, 2.9, FOURTH), flutter_hz=5.0, flutter_db=8.0))
        low = ((0.0, self.tuning.flattened(1.0)),)
        self.parts.append(replace(self._note(19.0, 1.9, self.tuning.straight_cents), glide=low))

    def tongued_thirds(self) -> None:
        """Bars 6 and 7: the third tongued in triplets, each a little more bent, until the root answers."""
        for index in range(6):
            third = self._note(21.67 + index / 3.0, 0.26, self.tuning.straight_cents)
            bent = ((0.0, self.tuning.flattened(0.16 * index)),)
            self.parts.append(replace(third, glide=bent, attack_s=0.012, release_s=0.010))
        self._shaken(24.0, 2.6, 0.0)

    def run_over_the_harp(self) -> None:
        """Bars 8 and 9: every reed in turn, four a beat, and back down from the octave."""
        reeds = sorted(set(self.tuning.reeds_hz))
        for index, hz in enumerate(reeds):
            quick = self._note(28.0 + index / 4.0, 0.24, 0.0)
            louder_db = 3.0 * index / len(reeds) - 4.0
            self.parts.append(replace(quick, hz=hz, level_db=quick.level_db + louder_db, attack_s=0.012, voice=_REEDY))
        after = 28.0 + len(reeds) / 4.0 + 0.5
        self._shaken(after, 1.2, _OCTAVE, glide=((0.0, -180.0), (0.11, 0.0)), cents_wide=15.0)
        self._plain(after + 1.33, 0.6, _SEVENTH)
        self._shaken(after + 2.0, 1.6, FIFTH)

    def turn_home(self) -> None:
        """Bars 10 to 12: the third dipped three semitones and back, a last blue third, and the root."""
        dip = ((0.30, 0.0), (0.36, -300.0), (0.52, -300.0), (0.60, 0.0))
        self.parts.append(replace(self._note(38.0, 1.5, self.tuning.straight_cents), glide=dip))
        self._plain(39.67, 0.30, FOURTH)
        self._blue(40.0, 2.0, depth=0.9, held_s=0.4, release_s=0.6)
        self._plain(42.67, 0.30, _LOW_FIFTH)
        self._shaken(43.0, 4.5, 0.0, swell=((0.3, 0.0), (1.0, 2.0), (2.9, -10.0)))

    def _note(self, beat: float, beats: float, cents: float) -> PlayedNote:
        """Make a note as it comes, steady but for a breath that is only human."""
        return PlayedNote(beat * _BEAT_S, beats * _BEAT_S, self.tuning.hz(cents), wander_cents=1.5, voice=_WARM)

    def _plain(self, beat: float, beats: float, cents: float) -> None:
        self.parts.append(self._note(beat, beats, cents))

    def _shaken(
        self,
        beat: float,
        beats: float,
        cents: float,
        *,
        glide: Curve = (),
        swell: Curve = (),
        cents_wide: float = 25.0,
    ) -> None:
        """Add a note with vibrato from half a second on."""
        note = replace(self._note(beat, beats, cents), glide=glide, swell=swell)
        self.parts.append(replace(note, vibrato_hz=5.3, vibrato_cents=cents_wide, vibrato_after_s=0.45))

    def _blue(self, beat: float, beats: float, *, depth: float, held_s: float, release_s: float) -> None:
        """Add a third begun low, held there and let go upwards."""
        glide = ((held_s, self.tuning.flattened(depth)), (held_s + release_s, 0.0))
        third = self._note(beat, beats, self.tuning.straight_cents)
        self.parts.append(replace(third, glide=glide, attack_s=0.03, voice=_REEDY))
