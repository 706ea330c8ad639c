"""What ``play`` and ``demo`` share: outputs, meter and take around one live performance."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import replace
from math import isinf
from pathlib import Path

import typer

from bridge import __version__
from bridge.base.clock import SystemClock
from bridge.base.printable import printable
from bridge.capture.source import Source
from bridge.cli.meter import run_meter
from bridge.cli.to_width import say
from bridge.send.choose import make_inputs, make_outputs
from bridge.send.midi_system import CLIENT_NAME
from bridge.send.output import Outputs
from bridge.send.pitch import sent_pitch
from bridge.send.port_watch import PortWatch
from bridge.send.settings import SendSettings
from bridge.takes.folder import TakeFolder
from bridge.wiring.board_opening import OpenBoard
from bridge.wiring.board_process import BoardProcess
from bridge.wiring.card import Card
from bridge.wiring.first_page import wait_for_page
from bridge.wiring.harps import harp_in_hand, harp_set
from bridge.wiring.live import LiveReport, run_live
from bridge.wiring.log_file import LOG
from bridge.wiring.meter_process import MeterProcess, MeterSetup, key_terminal
from bridge.wiring.notice import Notice
from bridge.wiring.on_harp import quantise_on
from bridge.wiring.settings import Settings
from bridge.wiring.steady import StopRequest, stop_on_signals

_INTERRUPTED = 130


def perform(
    settings: Settings,
    make_source: Callable[[], Source],
    *,
    title: str,
    told: Sequence[str] = (),
    board: OpenBoard | None = None,
    cautions: Sequence[str] = (),
    seconds: float | None = None,
    take: Path | None = None,
) -> LiveReport:
    """Play a source through the live path with the meter on screen, into a new folder in ``take`` if given.

    Once everything is open, ``told`` is printed, and ``cautions`` on standard error; the meter shows these too. With
    a ``board`` that is served as well, and ends with it; the meter shows where it is found.
    Ends with the source, after ``seconds``, with q or Ctrl-C. Raises UserError for what cannot be opened, typer.Exit
    when it is asked to stop before it has begun.
    """
    with ExitStack() as held:
        stop = held.enter_context(stop_on_signals())
        if sys.stderr.isatty():
            # The first seconds would be an empty screen.
            typer.echo("Starting ...", err=True)
        if board is not None:
            held.callback(board.close)
        source = make_source()
        if stop.wanted:
            typer.echo(f"The {title} was stopped before it began.", err=True)
            raise typer.Exit(_INTERRUPTED)
        setup = _setup(settings, title, (*(board.addresses() if board is not None else ()), *cautions))
        setup = replace(setup, taps=take is not None)
        return _perform(settings, source, stop, setup, told, board, seconds=seconds, take=take)


def tell_trouble(report: LiveReport) -> None:
    """Say on standard error how steady it was, and what went wrong on the way, if anything did."""
    if report.timing is not None:
        for line in report.timing.words():
            LOG.info("%s", line)
            typer.echo(line, err=True)
    if report.missed_s:
        lost = f"{report.missed_s:.2f} s of the sound was lost before it was heard"
        typer.echo(f"{lost}: the machine was too busy.", err=True)
    if report.dropouts:
        often = "once" if report.dropouts == 1 else f"{report.dropouts} times"
        typer.echo(f"The sound system said {often} that it could not keep up: some sound may be missing.", err=True)
    if report.lost:
        typer.echo(f"{report.lost} records did not reach the take: the machine was too busy.", err=True)
    if report.folder is not None and not report.complete:
        begun = TakeFolder(report.folder).description.exists()
        say(f"The take in {report.folder} {_incomplete(report, begun=begun)}", err=True)
        if begun:
            advice = f"What can be made of it, given room on the disk, is made by: reedwire recover {report.folder}"
        else:
            advice = "Nothing of it is there. Before you play again: make room there, or choose another folder."
        say(advice, err=True)


def _incomplete(report: LiveReport, *, begun: bool) -> str:
    """What is wrong with a take that is not complete: from when on and why, as far as that is known."""
    stopped = report.stopped
    if stopped is None:
        return "is not complete: some of its files are missing or short."
    if not begun:
        return f"is gone: {stopped.why}." if stopped.at_s else f"could not be begun: {stopped.why}."
    if isinf(stopped.at_s):
        return f"is not complete: {stopped.why}. Some of its files are missing or short."
    after = f"stops after {stopped.at_s:.1f} s of {report.seconds:.1f} s"
    return f"{after}: {stopped.why}. Some of its files are missing or short."


def end(report: LiveReport) -> None:
    """End with status 1 when the performance failed. Raises typer.Exit then."""
    if report.failed:
        raise typer.Exit(1)


def _perform(
    settings: Settings,
    source: Source,
    stop: StopRequest,
    setup: MeterSetup,
    told: Sequence[str],
    board: OpenBoard | None,
    *,
    seconds: float | None,
    take: Path | None,
) -> LiveReport:
    """Everything around the source, opened and closed."""
    meter = MeterProcess(run_meter, setup)
    displays: list[MeterProcess | BoardProcess] = [meter]
    notice = _Notices(displays)
    if board is not None:
        displays.append(BoardProcess(board.setup, board.listeners, notice))
    pitch = sent_pitch(settings.send, harp_in_hand(settings.harp).sharp_cents)
    if isinstance(source, Card):
        source.notice = notice
    watch = PortWatch()
    outputs = Outputs(
        make_outputs(settings.send, pitch=pitch, program_version=__version__, notice=notice, watch=watch),
        lambda name, error: notice(f"{name} failed: {error}"),
        pitch,
    )

    def begin() -> None:
        """All is open: only now is there something to mind, and a screen to give to the meter."""
        LOG.info("all is open: MIDI %s, OSC %s", settings.send.midi.port, settings.send.osc.to)
        for line in told:
            typer.echo(line)
        for line in setup.cautions:
            if line not in told:
                say(line, err=True)
        for display in displays:
            display.start()
        notice.shown = True
        if board is not None:
            _open_page(board, settings, source, displays, stop, notice, keys=setup.terminal is not None)

    try:
        return run_live(
            settings,
            source=source,
            outputs=outputs,
            displays=displays,
            take=take,
            seconds=seconds,
            inputs=make_inputs(settings.send, notice, watch),
            notice=notice,
            stop=stop,
            begun=begin,
        )
    finally:
        for display in reversed(displays):
            display.close()
        notice.repeat()


def _open_page(
    board: OpenBoard,
    settings: Settings,
    source: Source,
    displays: Sequence[MeterProcess | BoardProcess],
    stop: StopRequest,
    notice: Notice,
    *,
    keys: bool,
) -> None:
    """Show the board in a browser; a recording waits until somebody sees it. ``keys`` is whether there are any."""
    board.open_browser()
    if not source.endless and settings.web.wait_s:
        # What is said is logged, and no token may be.
        where = f" at {board.address}" if board.setup.tokens is None else ""
        wait_for_page(displays, where, settings.web.wait_s, stop, notice, SystemClock(), keys=keys)


class _Notices:
    """Lines for the performer: on the displays while they run, and all of them again once the screen is free.

    ``shown`` says that there is a meter that shows them.
    """

    def __init__(self, displays: Sequence[MeterProcess | BoardProcess]) -> None:
        self.shown = False
        self._displays = displays
        self._said: list[str] = []

    def __call__(self, text: str) -> None:
        """Say one line now."""
        self._said.append(text)
        LOG.info("%s", text)
        for display in self._displays:
            display.say(text)

    def repeat(self) -> None:
        """Say again what a screen that is gone has shown; lines in a pipe are there to be read.

        Of a performance that could not begin the error says all there is to say.
        """
        if self.shown and sys.stdout.isatty():
            for text in self._said:
                say(text, err=True)


def _setup(settings: Settings, title: str, cautions: Sequence[str]) -> MeterSetup:
    """What the meter must know."""
    harps = harp_set(settings.harp).harps
    third = quantise_on(settings, harps[0]).third
    return MeterSetup(
        title=title,
        a4_hz=harps[0].harp.a4_hz,
        straight=third.straight_cents,
        minor=third.minor,
        target=third.target,
        zone_low=third.zone_low,
        zone_high=third.zone_high,
        terminal=key_terminal(),
        parent=os.getpid(),
        cautions=tuple(cautions),
        arm_key=settings.send.arm.key,
        harps=tuple(held.harp for held in harps),
        tab=settings.harp.tab,
        goes_to=_goes_to(settings.send),
    )


def _goes_to(send: SendSettings) -> str:
    """Where notes go, in words; empty for nowhere."""
    own = dict.fromkeys(("auto", "virtual"), f"our own MIDI port {CLIENT_NAME}")
    midi = "" if send.midi.port == "none" else own.get(send.midi.port, f"MIDI {printable(send.midi.port)}")
    osc = "" if send.osc.to == "none" else f"OSC {printable(send.osc.to)}"
    return " and ".join(filter(None, (midi, osc)))
