"""What the room sounds like while nobody plays, and the gate that follows from it.

The rules are our own (common practice, no source); each stands beside its number.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.base.events import AudioBlock
from bridge.base.units import SILENCE_DB, powers_to_db
from bridge.follow.conditioning import Conditioner
from bridge.follow.follower import Hops
from bridge.follow.reed_follower import ReedFollower, hop_at
from bridge.follow.settings import FollowSettings, GateSettings

Array = NDArray[np.float64]

#: A moment is as long as the window over which the gate takes the level, in seconds.
MOMENT_S = 0.005
#: Level of a harp that is played into the microphone as it should be, dBFS; soft notes lie this many dB under it.
HARP_DB = -20.0
SOFT_DB = 15.0
#: The gate closes this far above what the noise reaches in 99 of 100 moments, and opens this far above that, dB.
CLOSE_ABOVE_DB = 3.0
OPEN_ABOVE_DB = 6.0
#: However quiet the room, breath and hands are louder than this, dBFS.
LOWEST_OPEN_DB = -60.0
#: Nothing at all comes from a microphone that gives less than this, dBFS.
DEAD_DB = -110.0
#: A moment this far above the middle one is no part of the noise, dB; so much of them disturbs, in seconds.
DISTURBED_DB = 12.0
DISTURBED_S = 0.1
#: A pitch above the usual gate for this long is somebody playing, or a tone in the room, in seconds.
TONE_S = 0.1


@dataclass(frozen=True, slots=True)
class LearnedRoom:
    """What was learned in ``seconds``; levels in dBFS after the follower's own high-pass and low-pass.

    ``noise_db`` is the middle one of all moments, ``most_db`` what 99 of 100 stay under; ``tone_hz`` is the pitch that
    was heard, 0 = none; ``disturbed_s`` how long something stood out of the noise, ``loudest_db`` the loudest moment.
    """

    seconds: float
    noise_db: float
    most_db: float
    tone_hz: float
    disturbed_s: float
    loudest_db: float = SILENCE_DB

    @property
    def dead(self) -> bool:
        """Whether nothing at all came in."""
        return self.noise_db <= DEAD_DB

    @property
    def disturbed(self) -> bool:
        """Whether it was not quiet long enough to learn from: a tone, a voice, steps."""
        return self.tone_hz > 0.0 or self.disturbed_s >= DISTURBED_S

    @property
    def open_db(self) -> float:
        """Gate to set: above this a sound may begin. To a tenth of a dB, within what the settings allow."""
        return round(min(max(self.most_db + CLOSE_ABOVE_DB + OPEN_ABOVE_DB, LOWEST_OPEN_DB), -10.0), 1)

    @property
    def close_db(self) -> float:
        """Gate to set: below this what sounds has ended."""
        return round(self.open_db - OPEN_ABOVE_DB, 1)

    @property
    def margin_db(self) -> float:
        """How far the gate lies under a harp as loud as it should be."""
        return HARP_DB - self.open_db

    @property
    def too_loud(self) -> bool:
        """Whether soft notes would drown."""
        return self.margin_db < SOFT_DB

    def gate(self) -> GateSettings:
        """Both settings."""
        return GateSettings(open_db=self.open_db, close_db=self.close_db)


class MomentLevels:
    """The level of each moment of a stream, as the gate hears it, for a follower with this floor."""

    def __init__(self, rate: int, floor_hz: float) -> None:
        self._hop = hop_at(rate)
        self._rate = rate
        self._hops = Hops(self._hop)
        self._conditioner = Conditioner(rate, self._hop, high_pass_hz=0.45 * floor_hz, low_pass_hz=9000.0)
        self._powers: list[Array] = []
        # The high-pass rings after the first sample that comes.
        self._skip = round(0.1 * rate / self._hop)

    def hear(self, block: AudioBlock) -> None:
        """Take the next block."""
        hops, _ = self._hops.cut(block)
        if len(hops):
            self._powers.append(np.mean(self._conditioner.step(hops) ** 2, axis=1))

    def levels_db(self) -> Array:
        """Level of every whole moment so far, dBFS, shape (n,)."""
        powers = np.concatenate([np.zeros(0), *self._powers])[self._skip :]
        each = max(1, round(MOMENT_S * self._rate / self._hop))
        whole = len(powers) // each
        return powers_to_db(powers[: whole * each].reshape(whole, each).mean(axis=1))

    @property
    def moment_s(self) -> float:
        """Exact length of a moment, whole hops."""
        return max(1, round(MOMENT_S * self._rate / self._hop)) * self._hop / self._rate


class RoomNoise:
    """Listens to a room in which nobody plays; ``floor_hz`` is the follower's."""

    def __init__(self, settings: FollowSettings, rate: int, floor_hz: float) -> None:
        self._rate = rate
        self._levels = MomentLevels(rate, floor_hz)
        # With the usual gate and our own follower whatever is set, since these ask what may be there, not what counts.
        usual = settings.model_copy(update={"gate": GateSettings(), "follower": "own"})
        self._follower = ReedFollower(usual, rate, floor_hz)
        self._pitches: list[float] = []
        self._samples = 0

    @property
    def seconds(self) -> float:
        """How much has been heard."""
        return self._samples / self._rate

    def hear(self, block: AudioBlock) -> None:
        """Take the next block."""
        self._samples += len(block.samples)
        self._levels.hear(block)
        self._pitches += [frame.hz for frame in self._follower.follow(block) if frame.hz > 0.0]

    def learned(self) -> LearnedRoom:
        """What the room sounds like, from all that was heard; of nothing heard all levels are -120."""
        levels = self._levels.levels_db()
        if not len(levels):
            return LearnedRoom(self.seconds, SILENCE_DB, SILENCE_DB, 0.0, 0.0)
        noise_db = float(np.median(levels))
        pitched_s = len(self._pitches) * hop_at(self._rate) / self._rate
        return LearnedRoom(
            self.seconds,
            noise_db,
            float(np.percentile(levels, 99.0)),
            float(np.median(self._pitches)) if pitched_s >= TONE_S else 0.0,
            float(np.count_nonzero(levels > noise_db + DISTURBED_DB)) * self._levels.moment_s,
            float(np.max(levels)),
        )
