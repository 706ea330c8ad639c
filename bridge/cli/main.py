"""The command ``reedwire``: its sub-commands, and errors in plain words instead of tracebacks."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from bridge import __version__
from bridge.base.errors import UserError
from bridge.cli.demo import demo
from bridge.cli.devices import devices
from bridge.cli.panic import panic
from bridge.cli.play import play
from bridge.cli.transcribe import transcribe

_INTERRUPTED = 130

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
for command in (demo, play, transcribe, devices, panic):
    app.command()(command)


def _print_version(wanted: bool) -> None:
    """Print name and version, and end."""
    if wanted:
        typer.echo(f"reedwire {__version__}")
        raise typer.Exit


@app.callback()
def reedwire(
    version: Annotated[
        bool, typer.Option("--version", is_eager=True, callback=_print_version, help="Print the version.")
    ] = False,
) -> None:
    """A harmonica in, notes with their bends and how blue they are out: to MIDI, to OSC and into files."""


def main() -> None:
    """Run the command line; ends the process with status 0, 1 (some of a batch failed), 2 (cannot be done) or 130."""
    try:
        app(prog_name="reedwire")
    except UserError as error:
        typer.echo(f"reedwire: {error}", err=True)
        sys.exit(error.exit_status)
    except KeyboardInterrupt:
        sys.exit(_INTERRUPTED)


if __name__ == "__main__":
    main()
