"""What ``play`` and ``demo`` share: outputs, meter and take around one live performance."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import typer

from bridge import __version__
from bridge.base.units import MIDI_A4_HZ, cents_between
from bridge.capture.source import Source
from bridge.cli.meter import run_meter
from bridge.send.choose import make_outputs
from bridge.send.osc_input import OscInput
from bridge.send.output import Outputs
from bridge.wiring.live import LiveReport, run_live
from bridge.wiring.meter_process import MeterProcess, MeterSetup, key_terminal
from bridge.wiring.settings import Settings


def perform(
    settings: Settings, source: Source, *, title: str, seconds: float | None = None, take: Path | None = None
) -> LiveReport:
    """Play ``source`` through the live path with the meter on screen, into a new folder in ``take`` if given.

    Ends with the source, after ``seconds``, with q or Ctrl-C. Raises UserError for what cannot be opened.
    """
    meter = MeterProcess(run_meter, _setup(settings, title))
    notice = _Notices(meter)
    outputs = Outputs(
        make_outputs(
            settings.send,
            tuning_offset_cents=cents_between(settings.harp.a4_hz, MIDI_A4_HZ),
            program_version=__version__,
            notice=notice,
        ),
        lambda name, error: notice(f"{name} failed: {error}"),
    )
    meter.start()
    try:
        return run_live(
            settings,
            source=source,
            outputs=outputs,
            meter=meter,
            take=take,
            seconds=seconds,
            inputs=[OscInput(settings.send.osc, notice)],
            notice=notice,
        )
    finally:
        meter.close()
        notice.repeat()


class _Notices:
    """Lines for the performer: on the meter while it runs, and all of them again once the screen is free."""

    def __init__(self, meter: MeterProcess) -> None:
        self._meter = meter
        self._said: list[str] = []

    def __call__(self, text: str) -> None:
        """Say one line now."""
        self._said.append(text)
        self._meter.say(text)

    def repeat(self) -> None:
        """Say again what a screen that is gone has shown; lines in a pipe are there to be read."""
        if sys.stdout.isatty():
            for text in self._said:
                typer.echo(text, err=True)


def _setup(settings: Settings, title: str) -> MeterSetup:
    """What the meter must know."""
    third = settings.quantise.third
    return MeterSetup(
        title=title,
        a4_hz=settings.harp.a4_hz,
        straight=third.straight,
        minor=third.minor,
        target=third.target,
        zone_low=third.zone_low,
        zone_high=third.zone_high,
        terminal=key_terminal(),
        parent=os.getpid(),
    )
