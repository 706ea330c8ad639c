"""The command behind ``tests/bench/run``."""

from __future__ import annotations

import argparse
import datetime as dt
import sys
import time
from pathlib import Path

from bench.recording import record
from bench.running import run_all
from bench.table import page

_HERE = Path(__file__).resolve().parent


def main() -> None:
    """Run the benchmark and write its table; record its figures for the regression test when asked."""
    parser = argparse.ArgumentParser(prog="tests/bench/run", description="Our follower beside its peers, in one table.")
    parser.add_argument("--quick", action="store_true", help="a few sounds in under a minute, printed")
    parser.add_argument("--out", type=Path, help="where the table goes (results.md beside this file)")
    parser.add_argument("--record", action="store_true", help="only write recorded.json for the regression test")
    chosen = parser.parse_args()
    began = time.monotonic()

    def say(what: str) -> None:
        sys.stderr.write(f"bench: {time.monotonic() - began:5.0f} s  {what}\n")

    if chosen.record:
        record(_HERE / "recorded.json")
        say("recorded.json written")
        return
    results = run_all(quick=chosen.quick, say=say)
    text = page(results, dt.datetime.now(tz=dt.UTC).date().isoformat())
    if chosen.quick and chosen.out is None:
        sys.stdout.write(text + "\n")
    else:
        out = chosen.out or _HERE / "results.md"
        out.write_text(text, encoding="utf-8")
        say(f"{out} written")


if __name__ == "__main__":
    main()
