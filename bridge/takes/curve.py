"""``curve.csv``: the pitch, one row a frame, appended as it happens.

Columns: ``ready_s`` and ``time_s`` in seconds of the stream, ``hz`` (0 = silent), ``cents`` above the root,
``level_db`` in dBFS (-120 = nothing), ``clean`` 0..1. UTF-8, comma, decimal point, LF.
"""

from __future__ import annotations

from pathlib import Path

from bridge.base.events import PitchPoint
from bridge.takes.appending import AppendFile

COLUMNS = ("ready_s", "time_s", "hz", "cents", "level_db", "clean")
#: Ten microseconds, a thousandth of a hertz and a hundredth of a cent are all finer than anything that is measured.
_ROW = "%.5f,%.5f,%.3f,%.2f,%.2f,%.3f\n"


class CurveWriter:
    """Appends rows in whole lines, ``flush_s`` of stream time at once.

    At most ``rows_per_second`` rows of each second are kept (None = every frame); of frames closer together than that
    the first is kept.
    """

    def __init__(self, path: Path, *, rows_per_second: float | None = None, flush_s: float = 0.25) -> None:
        # Half a microsecond off: frames as far apart as the rows wanted must not be lost to rounding.
        self._gap_s = 0.0 if rows_per_second is None else 1.0 / rows_per_second - 5e-7
        self._flush_s = flush_s
        self._kept_s: float | None = None
        self._flushed_s = 0.0
        self._rows: list[str] = []
        self._file = AppendFile(path)
        self._file.append((",".join(COLUMNS) + "\n").encode())

    def add(self, point: PitchPoint) -> None:
        """Add a row; raises OSError when the disk takes no more."""
        ready_s = point.ready_s
        if self._kept_s is not None and 0.0 <= ready_s - self._kept_s < self._gap_s:
            return
        self._kept_s = ready_s
        self._rows.append(_ROW % (ready_s, point.time_s, point.hz, point.cents, point.level_db, point.clean))
        if not 0.0 <= ready_s - self._flushed_s < self._flush_s:
            self._flushed_s = ready_s
            self.flush()

    def flush(self) -> None:
        """Hand every row to the system."""
        rows, self._rows = self._rows, []
        self._file.append("".join(rows).encode())

    def close(self) -> None:
        """Write what is left and close; closing again does nothing."""
        try:
            if self._rows:
                self.flush()
        finally:
            self._file.close()
