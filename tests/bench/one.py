"""One sound, one follower: its figures and where its gross errors lie.

python -m bench.one --sound "sampled phrase" --key C --dirt room     (with tests/ and the checkout on PYTHONPATH)
"""

from __future__ import annotations

import argparse
import sys

from bench.cases import CONDITIONS, Case, high_case, rehearsal_case, sampled_case
from bench.heard import heard
from bench.measures import Figures, gross_places
from bench.noting import note_ons, wrong_places
from bench.peers import AUBIO, OFFLINE, Row, ours
from bench.scoring import score
from bridge.follow.settings import FollowSettings


def main(arguments: list[str] | None = None) -> None:
    """Print figures and gross errors of one sound."""
    parser = argparse.ArgumentParser(prog="python -m bench.one")
    parser.add_argument(
        "--sound", default="rehearsal", help='"rehearsal", a passage of it, "high bends" or "sampled NAME"'
    )
    parser.add_argument("--key", default="A")
    parser.add_argument("--seed", type=int, default=1, help="of the rehearsal")
    parser.add_argument("--dirt", default="clean", choices=CONDITIONS)
    parser.add_argument("--row", default="reedwire", help="part of the name of a row, such as yinfast or Praat")
    parser.add_argument("--set", action="append", default=[], metavar="KEY=VALUE", help="a number of FollowSettings")
    chosen = parser.parse_args(arguments)
    case = _case(chosen.sound, chosen.key, chosen.seed).dirtied(chosen.dirt)
    row = _row(chosen.row, FollowSettings.model_validate(dict(pair.split("=", 1) for pair in chosen.set)))
    frames = row.hear(case)
    figures = score(case, frames, live=row.live)
    sys.stdout.write(f"{row.name} on {case.sound.name} ({case.sound.length_s:.1f} s)\n" + _said(figures))
    for start, end, hz, cents in gross_places(case.sound, heard(frames)):
        sys.stdout.write(f"  gross {start:8.3f}..{end:7.3f} s  true {hz:7.1f} Hz  off {cents:+8.1f} cents\n")
    if row.live:
        for line in wrong_places(case, note_ons(case, frames)):
            sys.stdout.write(f"  note {line}\n")


def _case(name: str, key: str, seed: int) -> Case:
    """The clean case of that name."""
    if name.startswith("sampled "):
        return sampled_case(name.removeprefix("sampled "), key)
    if name == "high bends":
        return high_case(key, seed)
    return rehearsal_case(key, seed, None if name == "rehearsal" else [name])


def _row(name: str, settings: FollowSettings) -> Row:
    """Our follower with these settings, or the first peer whose name holds ``name``."""
    return next(row for row in (ours(settings), *AUBIO, *OFFLINE) if name in row.name)


def _said(figures: Figures) -> str:
    """The figures in a few lines."""
    bands = "".join(
        f"  {name} Hz: lag {band.lag_ms:.1f} ms, median {band.median_cents:.3f}, p95 {band.p95_cents:.2f} cents,"
        f" gross {band.gross:.3f} % of {band.frames}\n"
        for name, band in figures.bands.items()
    )
    notes = figures.notes
    return (
        f"{bands}"
        f"  recall {figures.recall:.2f} %, false voicing {figures.false_voicing:.2f} %\n"
        f"  gross {figures.gross:.3f} % ({figures.gross_settled:.3f} after 40 ms), octave {figures.octave:.3f} %\n"
        f"  cents: median {figures.median_cents:.3f}, p95 {figures.p95_cents:.2f}, p99 {figures.p99_cents:.2f};"
        f" by its own time {figures.own_median_cents:.3f}, p99 {figures.own_p99_cents:.2f}\n"
        f"  first correct frame p50 {figures.onset_p50_ms:.1f}, p95 {figures.onset_p95_ms:.1f} ms;"
        f" Note On p50 {notes.delay_ms(0.5):.1f}, p95 {notes.delay_ms(0.95):.1f} ms\n"
        f"  notes {notes.played}: {notes.missing} missing, {notes.extra} extra,"
        f" {notes.wrong} wrong, {notes.scooped} scooped\n"
    )


if __name__ == "__main__":
    main()
