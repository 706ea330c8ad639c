"""``reedwire explain``: the third in four ways, as one page that can be mailed."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from bridge.base.errors import UserError
from bridge.cli.new_file import may_write
from bridge.cli.numbers import number
from bridge.cli.options import A4, AnyHarp, HarpFile, Position, Preset, Sets, Tune, settings_from
from bridge.cli.page_options import CAUTIONS, ENDINGS, Overwrite, heard, write_page
from bridge.harp.settings import AUTO
from bridge.wiring.four_ways import explained

_OUT = Path("explained.html")


def explain(
    source: Annotated[
        Path | None,
        typer.Option("--from", metavar="SOUND|TAKE", help="Your own playing; without it a model tone sings."),
    ] = None,
    out: Annotated[Path, typer.Option("--out", metavar="FILE.html", help="The page that is written.")] = _OUT,
    overwrite: Overwrite = False,
    tempo: Annotated[
        float,
        typer.Option(
            "--tempo",
            metavar="BPM",
            parser=number("--tempo", 30.0, 200.0, "beats a minute"),
            help="Beats a minute of the model tone.",
        ),
    ] = 72.0,
    harp: AnyHarp = None,
    harp_file: HarpFile = None,
    position: Position = None,
    a4: A4 = None,
    tune: Tune = None,
    preset: Preset = None,
    sets: Sets = None,
) -> None:
    """Explain the third in four ways, on one page.

    Straight, minor, blue, released, each with a picture, its sound and a sentence. With --from each is taken from your
    own playing, as far as it is in it; the rest, or all of it, is sung by a reed-like tone in the key and octave of
    your harp. The page is one file that needs no network.
    """
    may_write(out, "--out", "the page", overwrite=overwrite, endings=ENDINGS)
    settings = settings_from(
        preset, sets, any_harp=True, harp=harp, harp_file=harp_file, position=position, a4=a4, tune=tune
    )
    if source is None and (settings.harp.key == AUTO or tune is not None):
        raise UserError("Without --from there is nothing to find the harp in: name its key with --harp.")
    playing = None if source is None else heard(source, settings, said=harp is not None or harp_file is not None)
    page, missing = explained(settings, tempo, CAUTIONS, playing, source)
    for name in missing:
        typer.echo(f"No third of {source} is {name}: a model tone sings it.")
    write_page(out, page)
