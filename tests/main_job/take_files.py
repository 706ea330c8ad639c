"""The tables of a take, read with nothing of the project: Python's csv and numpy.

Columns as users are told: format 1 of a take.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

CURVE_COLUMNS = "ready_s,time_s,hz,cents,level_db,clean"
NOTES_COLUMNS = "id,start_s,length_s,midi_note,degree,velocity,hole,air,reed,reed_bend_cents,or_else"


@dataclass(frozen=True)
class Note:
    """One row of ``notes.csv``."""

    id: int
    start_s: float
    length_s: float
    midi_note: int
    degree: str
    velocity: int
    hole: int
    air: str
    reed: str
    reed_bend_cents: float
    or_else: str

    @property
    def end_s(self) -> float:
        """Where it ends."""
        return self.start_s + self.length_s


@dataclass(frozen=True, eq=False)
class Curve:
    """The columns of ``curve.csv``, each of shape (n,)."""

    ready_s: NDArray[np.float64]
    time_s: NDArray[np.float64]
    hz: NDArray[np.float64]
    cents: NDArray[np.float64]
    level_db: NDArray[np.float64]
    clean: NDArray[np.float64]


def read_notes(folder: Path) -> list[Note]:
    """The rows of ``notes.csv``; fails when the columns are others or a row has no hole."""
    text = (folder / "notes.csv").read_bytes().decode("utf-8")
    assert text.split("\n", 1)[0] == NOTES_COLUMNS
    assert "\r" not in text
    return [
        Note(
            int(row["id"]),
            float(row["start_s"]),
            float(row["length_s"]),
            int(row["midi_note"]),
            row["degree"],
            int(row["velocity"]),
            int(row["hole"]),
            row["air"],
            row["reed"],
            float(row["reed_bend_cents"]),
            row["or_else"],
        )
        for row in csv.DictReader(text.splitlines())
    ]


def read_curve(folder: Path) -> Curve:
    """The columns of ``curve.csv``; fails when they are others."""
    text = (folder / "curve.csv").read_bytes().decode("utf-8")
    assert text.split("\n", 1)[0] == CURVE_COLUMNS
    assert "\r" not in text
    table = np.loadtxt(text.splitlines()[1:], delimiter=",", ndmin=2)
    return Curve(*table.T)
