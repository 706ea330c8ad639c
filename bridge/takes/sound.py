"""``sound.wav``: the sound of a take, mono, 24 bits, readable at any moment.

The header is brought up to date with every write, so that a killed process leaves a whole file.
"""

from __future__ import annotations

import wave
from pathlib import Path

import numpy as np

from bridge.base.errors import ClosedError
from bridge.base.events import AudioBlock

SAMPLE_BYTES = 3
FULL_SCALE = 2**23
#: What stands before the samples: RIFF, format and data headers of plain PCM (RIFF/WAVE, from memory).
HEADER_BYTES = 44
#: A WAV file counts its bytes in 32 bits; the header and one more write must fit.
MOST_BYTES = 2**32 - 2**20


class SoundWriter:
    """Writes blocks at their place in the stream: a gap becomes silence, what comes twice is kept once.

    ``flush_s`` of sound is gathered before each write. Blocks beyond the 4 GB of a WAV file (8 hours at 48 kHz) are
    left out. Raises FileExistsError or another OSError when the file cannot be made.
    """

    def __init__(self, path: Path, rate: int, *, flush_s: float = 0.25) -> None:
        # Unbuffered: a write that has returned is with the system, and survives the process.
        self._raw = path.open("xb", buffering=0)
        self._wav = wave.open(self._raw, "wb")  # noqa: SIM115 -- closed by close()
        self._wav.setnchannels(1)
        self._wav.setsampwidth(SAMPLE_BYTES)
        self._wav.setframerate(rate)
        self._wav.writeframes(b"")
        self._rate = rate
        self._gather = round(flush_s * rate) * SAMPLE_BYTES
        self._waiting = bytearray()
        self._end = 0
        self._is_open = True

    def add(self, block: AudioBlock) -> None:
        """Add a block; raises ClosedError when closed and OSError when the disk takes no more."""
        if not self._is_open:
            raise ClosedError("The sound of this take is closed.")
        gap = block.start - self._end
        new = block.samples[max(0, -gap) :]
        after = self._end + max(0, gap) + len(new)
        if len(new) == 0 or after * SAMPLE_BYTES > MOST_BYTES:
            return
        # A sound card may have been away for an hour: no more than a second of silence is in memory at once.
        while self._end < block.start:
            self._keep(bytes(min(block.start - self._end, self._rate) * SAMPLE_BYTES))
        self._keep(_as_bytes(new))

    def close(self) -> None:
        """Write what is left and close; closing again does nothing."""
        if not self._is_open:
            return
        self._is_open = False
        try:
            self._flush()
            self._wav.close()
        finally:
            self._raw.close()

    def _keep(self, data: bytes) -> None:
        """Gather whole samples, and write once there are enough."""
        self._waiting += data
        self._end += len(data) // SAMPLE_BYTES
        if len(self._waiting) >= self._gather:
            self._flush()

    def _flush(self) -> None:
        waiting, self._waiting = bytes(self._waiting), bytearray()
        self._wav.writeframes(waiting)


def _as_bytes(samples: np.ndarray[tuple[int], np.dtype[np.float32]]) -> bytes:
    """Samples -1..+1, shape (n,), as 24-bit little-endian PCM, 3 n bytes; beyond full scale is clipped, NaN is 0.

    Full scale is 2**23, as readers take it, so that what is read back is what was heard.
    """
    steps = np.rint(np.nan_to_num(samples).astype(np.float64) * FULL_SCALE)
    whole = np.clip(steps, -FULL_SCALE, FULL_SCALE - 1).astype("<i4")
    return whole.view(np.uint8).reshape(-1, 4)[:, :SAMPLE_BYTES].tobytes()


def mend_header(path: Path) -> bool:
    """Let the header of a ``sound.wav`` of ours count all samples that are in the file; whether that was needed.

    A process that is killed between a write and its header leaves sound that no reader would find. Half a last sample
    is cut off. Raises OSError when the file cannot be read or written; a file that is none of ours stays as it is.
    """
    with path.open("r+b") as file:
        header = file.read(HEADER_BYTES)
        if len(header) < HEADER_BYTES or header[:4] != b"RIFF" or header[36:40] != b"data":
            return False
        whole = (path.stat().st_size - HEADER_BYTES) // SAMPLE_BYTES * SAMPLE_BYTES
        if int.from_bytes(header[40:44], "little") == whole:
            return False
        file.truncate(HEADER_BYTES + whole)
        # RIFF chunks are of even length: an odd one is filled with a byte that is not counted in it.
        padding = whole % 2
        file.seek(HEADER_BYTES + whole)
        file.write(bytes(padding))
        file.seek(4)
        file.write((HEADER_BYTES - 8 + whole + padding).to_bytes(4, "little"))
        file.seek(40)
        file.write(whole.to_bytes(4, "little"))
    return True
