"""A sound file, or the sound track of a video, as a source: any format, rate and channel count -> mono blocks."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bridge.base.errors import SoundError
from bridge.base.events import AudioBlock
from bridge.base.printable import printable
from bridge.capture.decoders import DamagedError, Decoder, open_decoder
from bridge.capture.source import Source, require_open

#: A recording that never rises above this peak (-70 dBFS) holds nothing that could be heard.
SILENT_PEAK = 10.0 ** (-70.0 / 20.0)

_LENGTH_TOLERANCE_S = 0.5


class SoundFile(Source):
    """A file read as fast as it is asked for, in blocks of ``block`` samples at ``rate`` Hz (the last may be shorter).

    ``length_s`` is the length that the file claims, None when it claims none or is not open yet; ``peak`` the highest
    absolute sample so far, ``repaired`` how many values so far were no numbers and became 0.
    """

    def __init__(self, path: Path | str, rate: int = 48000, block: int = 128) -> None:
        self.path = Path(path)
        self.name = printable(self.path.name)
        self.rate = rate
        self.length_s: float | None = None
        self.peak = 0.0
        self.repaired = 0
        self._block = block
        self._decoder: Decoder | None = None
        self._pieces: Iterator[NDArray[np.float32]] = iter(())
        self._waiting = np.zeros(0, np.float32)
        self._next = 0
        self._failure: SoundError | None = None

    def open(self) -> None:
        """Open the file at its beginning. Raises SoundError when there is no sound to be had from it."""
        self.close()
        self._decoder = open_decoder(self.path)
        self.length_s = self._decoder.promised_s
        self.peak, self.repaired, self._next = 0.0, 0, 0
        self._failure = None
        self._waiting = np.zeros(0, np.float32)
        self._pieces = self._resampled(self._decoder)

    def read(self, timeout_s: float) -> AudioBlock | None:  # noqa: ARG002 - never has to wait
        """Give the next block at once; None after the last.

        Raises SoundError after the last sample when the file is damaged, cut short or held no samples at all; the
        blocks given before are good.
        """
        require_open(self.name, is_open=self._decoder is not None)
        while len(self._waiting) < self._block:
            try:
                piece = next(self._pieces, None)
            except SoundError as error:
                self._failure, piece = error, None
            if piece is None:
                break
            self._waiting = np.concatenate((self._waiting, piece))
        samples, self._waiting = self._waiting[: self._block], self._waiting[self._block :]
        if not len(samples):
            if self._failure:
                raise self._failure
            return None
        block = AudioBlock(self._next, self.rate, samples)
        self._next += len(samples)
        self.peak = max(self.peak, float(np.max(np.abs(samples))))
        return block

    def require_sound(self) -> None:
        """Raise SoundError when nothing that could be heard has been read; call it after the last block."""
        if self.peak < SILENT_PEAK:
            raise SoundError(self.path, "is silent throughout", "Check which microphone was recorded, and its level")

    def close(self) -> None:
        """Close the file."""
        decoder, self._decoder = self._decoder, None
        if decoder is not None:
            decoder.close()

    def _resampled(self, decoder: Decoder) -> Iterator[NDArray[np.float32]]:
        """Pieces at ``rate``, then SoundError if the file did not hold what it should."""
        import soxr

        convert = (
            soxr.ResampleStream(decoder.rate, self.rate, 1, dtype="float32") if decoder.rate != self.rate else None
        )
        count = 0
        damaged = False
        try:
            for piece in decoder.pieces:
                count += len(piece.samples)
                self.repaired += piece.repaired
                yield convert.resample_chunk(piece.samples) if convert else piece.samples
        except DamagedError:
            damaged = True
        if convert:
            yield convert.resample_chunk(np.zeros(0, np.float32), last=True)
        self._check_length(count / decoder.rate, decoder.promised_s, damaged=damaged)

    def _check_length(self, got_s: float, promised_s: float | None, *, damaged: bool) -> None:
        """Compare what came with what the file said."""
        if got_s == 0.0:
            raise SoundError(self.path, "holds no samples", "Copy or record it again")
        if promised_s is not None and got_s < promised_s - _LENGTH_TOLERANCE_S:
            problem = f"is cut short: {got_s:.1f} s of {promised_s:.1f} s are there"
            raise SoundError(self.path, problem, "Copy it again from where it was recorded")
        if damaged:
            raise SoundError(self.path, "is damaged or cut short", "Copy it again from where it was recorded")
