"""Parts of sound files set one after another, sample for sample, in a new file."""

from __future__ import annotations

import errno
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bridge.base.errors import SoundError, UserError

if TYPE_CHECKING:
    from numpy.typing import NDArray

_PIECE = 1 << 16


@dataclass(frozen=True, slots=True)
class SoundPart:
    """Samples ``begin`` to before ``end`` (None: the last) of the file ``path``, with so much silence after them."""

    path: Path
    begin: int = 0
    end: int | None = None
    silence: int = 0


@dataclass(frozen=True, slots=True)
class SoundKind:
    """What a sound file is: Hz, channels, how a sample is stored (libsndfile's name) and how many there are."""

    rate: int
    channels: int
    subtype: str
    count: int

    @property
    def length_s(self) -> float:
        """Length in seconds."""
        return self.count / self.rate


def sound_kind(path: Path) -> SoundKind:
    """What the sound file is. Raises SoundError when it cannot be read."""
    import soundfile

    try:
        info = soundfile.info(str(path))
    except (soundfile.LibsndfileError, OSError) as error:
        raise SoundError(path, f"cannot be read ({error})", "Take it back from where it was recorded") from error
    return SoundKind(info.samplerate, info.channels, info.subtype, info.frames)


def require_alike(paths: Sequence[Path]) -> SoundKind:
    """The kind of the first of them. Raises UserError when another differs in rate or channels, so cannot follow it."""
    first = sound_kind(paths[0])
    for path in paths[1:]:
        kind = sound_kind(path)
        if (kind.rate, kind.channels) != (first.rate, first.channels):
            raise UserError(
                f"{path} has {kind.rate} Hz, {kind.channels} channels; {paths[0]} {first.rate} and {first.channels}. "
                "Bring them to the same rate and channels first."
            )
    return first


def write_parts(parts: Sequence[SoundPart], out: Path) -> None:
    """Write the parts, at least one and all alike, into the new WAV file ``out``, every sample as it is stored.

    Raises FileExistsError when it is there, another OSError when the disk does not take it.
    """
    import numpy as np
    import soundfile

    kind = sound_kind(parts[0].path)
    out.open("xb").close()
    # By its path: of a file of Python's libsndfile would tell every failed write on standard error.
    with soundfile.SoundFile(
        str(out), "w", samplerate=kind.rate, channels=kind.channels, subtype=kind.subtype, format="WAV"
    ) as written:
        stored = "int32" if kind.subtype.startswith("PCM") else "float64"
        for part in parts:
            with soundfile.SoundFile(str(part.path)) as file:
                end = file.frames if part.end is None else min(part.end, file.frames)
                file.seek(min(part.begin, end))
                while (place := file.tell()) < end:
                    _write(written, file.read(min(_PIECE, end - place), dtype=stored, always_2d=True))
            left = part.silence
            while left > 0:
                _write(written, np.zeros((min(left, _PIECE), kind.channels), stored))
                left -= _PIECE


def _write(written: Any, samples: NDArray[Any]) -> None:  # noqa: ANN401 -- a library without types
    """Append samples. Raises OSError when the disk takes no more."""
    import soundfile

    try:
        written.write(samples)
    except (soundfile.SoundFileError, AssertionError) as error:
        # libsndfile does not say why; of a file that could be made it is all but always this.
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC)) from error
