"""What ``compare`` and ``explain`` share: hearing a recording or a take, and writing the page."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, TypeAlias

import typer

from bridge.base.errors import UserError
from bridge.base.printable import printable
from bridge.base.writing import write_safely
from bridge.cli.any_harp import with_what_is_found
from bridge.cli.cautions import BREATH, HOWL
from bridge.cli.progress import progress_bar
from bridge.cli.transcribe_words import heard_on
from bridge.harp.settings import AUTO
from bridge.wiring.playings import Playing, hear_playing
from bridge.wiring.settings import Settings

#: What the page itself says to whoever listens to it and plays after it.
CAUTIONS = (HOWL, BREATH)
ENDINGS = (".html", ".htm")
_KILOBYTE = 1000

Overwrite: TypeAlias = Annotated[bool, typer.Option("--overwrite", help="Write over the page that is there.")]


def heard(path: Path, settings: Settings, *, said: bool) -> Playing:
    """Hear a recording or a take, and say on which harp; ``said`` is whether a harp was named for it.

    Raises UserError for what cannot be used.
    """
    told: list[str] = []
    found: list[str] = []
    with progress_bar(printable(path.name)) as progress:
        auto = settings.harp.key == AUTO
        if not path.is_dir():
            settings, found = with_what_is_found(path, settings, progress)
        playing = hear_playing(path, settings, told.append, progress)
    for line in told:
        typer.echo(printable(line), err=True)
    name = playing.held.name
    on = f"played on {name}" if path.is_dir() else heard_on(name, settings.harp, said=said, found=auto)
    for line in (printable(f"{path}: {on}"), *found):
        typer.echo(line)
    return playing


def write_page(path: Path, page: str) -> None:
    """Write the page and say where it lies. Raises UserError where it cannot be written."""
    try:
        write_safely(path, page)
    except OSError as error:
        raise UserError(f"{path} cannot be written ({error.strerror}). Choose another name with --out.") from error
    size = -(-len(page.encode("utf-8")) // _KILOBYTE)
    typer.echo(f"Wrote {printable(path)} ({size} kB): it opens in any browser, without a network, and can be mailed.")
