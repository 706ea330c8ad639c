"""Takes written by hand for the tests: tables, take.yaml, and a sound in which every sample is another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import soundfile

from bridge.harp.settings import HarpSettings
from bridge.takes.edited import Breakpoint, EditedNote
from bridge.takes.inflections import inflections_csv
from bridge.takes.notes import notes_csv
from bridge.takes.take_yaml import TakeFacts, write_take_yaml
from bridge.wiring.harps import harp_set
from bridge.wiring.opening import OpenedTake, opened_take
from bridge.wiring.settings import Settings
from takes.made_notes import edited

RATE = 48000
# Root, a third released upwards, a third with vibrato, the fifth: with the decimals of the tables.
_NOTES = (
    edited(1, 0.25, 0.4, 67, degree="1"),
    edited(
        2,
        0.8,
        1.2,
        71,
        points=(
            Breakpoint(0.0, -100.0, 0.2),
            Breakpoint(0.3, -95.5, 0.5),
            Breakpoint(0.55, -12.25, 0.7),
            Breakpoint(1.2, -12.25, 0.6),
        ),
    ),
    edited(
        3,
        2.1,
        1.0,
        71,
        points=tuple(Breakpoint(step / 16, (-30.0, -10.0, -30.0, -50.0)[step % 4], 0.6) for step in range(17)),
    ),
    edited(4, 3.3, 0.5, 74, degree="5"),
)
#: The same in the holes of a C harp (OEIS A291810): draw 2, 3, 3 and 4.
PHRASE = tuple(
    replace(note, hole=hole, air="draw", reed="straight", reed_bend_cents=0.0)
    for note, hole in zip(_NOTES, (2, 3, 3, 4), strict=True)
)


def make_take(
    path: Path,
    notes: Sequence[EditedNote] = PHRASE,
    *,
    sound_s: float | None = 4.0,
    rate: int = RATE,
    harp: Mapping[str, object] | None = None,
    **more: object,
) -> OpenedTake:
    """A take in the new folder ``path``, on a C harp in cross position unless ``harp`` says more; opened."""
    path.mkdir(parents=True)
    settings = HarpSettings.model_validate(dict(harp or {}))
    facts = TakeFacts(
        source="made by hand",
        harp=harp_set(settings).harps[0].facts(),
        settings=Settings(harp=settings).model_dump(mode="json"),
        **more,  # type: ignore[arg-type]
    )
    write_take_yaml(path / "take.yaml", facts)
    (path / "notes.csv").write_text(notes_csv(notes), encoding="utf-8", newline="")
    (path / "inflections.csv").write_text(inflections_csv(notes), encoding="utf-8", newline="")
    if sound_s is not None:
        samples = np.random.default_rng(1).integers(-(2**23), 2**23, round(sound_s * rate), np.int32) << 8
        soundfile.write(path / "sound.wav", samples, rate, subtype="PCM_24")
    return opened_take(path, lambda _: None)


def content(path: Path) -> dict[str, bytes]:
    """Every file of a folder, also of those inside, by its name there."""
    return {str(file.relative_to(path)): file.read_bytes() for file in sorted(path.rglob("*")) if file.is_file()}


def stored(path: Path) -> np.ndarray:
    """The samples of a sound as they are stored, shape (n,)."""
    samples: np.ndarray = soundfile.read(path, dtype="int32")[0]
    return samples
