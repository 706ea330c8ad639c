"""The command ``reedwire`` and its sub-commands."""

from __future__ import annotations

from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from bridge import __version__
from bridge.cli.board import board
from bridge.cli.check import check
from bridge.cli.compare import compare
from bridge.cli.demo import demo
from bridge.cli.devices import devices
from bridge.cli.drill import drill
from bridge.cli.edit import edit_app
from bridge.cli.explain import explain
from bridge.cli.panic import panic
from bridge.cli.play import play
from bridge.cli.rebuild import rebuild
from bridge.cli.recover import recover
from bridge.cli.replay import replay
from bridge.cli.stopped import told_when_stopped
from bridge.cli.sweep import sweep
from bridge.cli.transcribe import transcribe
from bridge.cli.tune import tune


class _Commands(TyperGroup):
    """The commands in the order of their use: typer puts groups, of which ``edit`` is one, behind all others.

    Of those that say nothing of their own when Ctrl-C ends them it is said here: typer would end them without a word.
    """

    def invoke(self, ctx: Any) -> Any:  # noqa: ANN401 -- as typer has it, whose own class is not for others
        """Run the command that ``ctx`` names."""
        with told_when_stopped("reedwire: stopped."):
            return super().invoke(ctx)

    def list_commands(self, ctx: object) -> list[str]:  # noqa: ARG002 -- typer gives it
        """Their names."""
        names = [name for name in self.commands if name != "edit"]
        names.insert(names.index("rebuild") + 1, "edit")
        return names


app = typer.Typer(
    cls=_Commands,
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
for command in (
    *(demo, play, board, transcribe, rebuild, replay, recover, compare, explain, drill),
    *(tune, devices, check, sweep, panic),
):
    app.command()(command)
app.add_typer(edit_app, name="edit")


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
