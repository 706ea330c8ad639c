"""A sound file read and written sample for sample: what is not touched comes out bit for bit."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from bridge.base.errors import SoundError

Floats = NDArray[np.float64]
#: Bits of a sample, by libsndfile's name; those without are floating point.
_BITS = {"PCM_U8": 8, "PCM_S8": 8, "PCM_16": 16, "PCM_24": 24, "PCM_32": 32}


class SampleFile:
    """A mono sound file, open for reading at any place; a context manager.

    ``count`` samples at ``rate`` Hz. Raises SoundError when it cannot be read or is not mono.
    """

    def __init__(self, path: Path) -> None:
        import soundfile

        self.path = path
        try:
            self._file = soundfile.SoundFile(path)
        except (OSError, soundfile.LibsndfileError) as error:
            raise SoundError(
                path, f"cannot be read ({error})", "Without the sound of a take nothing is sung"
            ) from error
        if self._file.channels != 1:
            self._file.close()
            problem = f"has {self._file.channels} channels; the sound of a take has one"
            raise SoundError(path, problem, "Put back the sound.wav that was written with the take")
        self.rate: int = self._file.samplerate
        self.count: int = self._file.frames
        self._bits = _BITS.get(self._file.subtype)

    def raw(self, begin: int, end: int) -> NDArray[Any]:
        """The samples from ``begin`` to ``end`` as they are stored, to be written again; silence past the end."""
        dtype = "float64" if self._bits is None else "int32"
        self._file.seek(min(begin, self.count))
        samples = self._file.read(max(0, min(end, self.count) - begin), dtype=dtype)
        return np.concatenate((samples, np.zeros(end - begin - len(samples), samples.dtype)))

    def samples(self, begin: int, end: int) -> Floats:
        """The same with full scale +-1; silence also before the beginning."""
        raw = self.raw(max(begin, 0), max(end, 0))
        whole = np.concatenate((np.zeros(end - begin - len(raw)), raw.astype(np.float64)))
        return whole if self._bits is None else whole / 2.0**31

    def as_raw(self, samples: Floats) -> NDArray[Any]:
        """Samples of full scale +-1 in the steps of this file; what is louder is clipped."""
        if self._bits is None:
            return samples
        steps = 2.0 ** (self._bits - 1)
        whole = np.clip(np.rint(samples * steps), -steps, steps - 1.0)
        # libsndfile has the bits of every integer at the upper end of 32.
        return (whole.astype(np.int64) << (32 - self._bits)).astype(np.int32)

    def open_like(self, path: Path) -> SampleWriter:
        """A new file of the same kind at ``path``."""
        return SampleWriter(path, self.rate, self._file.format, self._file.subtype)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()


class SampleWriter:
    """A sound file that takes raw samples; a context manager. Raises OSError when the disk takes no more."""

    def __init__(self, path: Path, rate: int, kind: str, subtype: str) -> None:
        import soundfile

        self._failure = soundfile.SoundFileError
        self._file = soundfile.SoundFile(path, "w", samplerate=rate, channels=1, format=kind, subtype=subtype)

    def write(self, samples: NDArray[Any]) -> None:
        """Append samples as :meth:`SampleFile.raw` gives them."""
        try:
            self._file.write(samples)
        except (self._failure, AssertionError) as error:
            # libsndfile does not say why; of a file that could be made it is all but always this.
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC)) from error

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()
