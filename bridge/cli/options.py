"""The options that several commands share, each in one place, and the settings they lead to."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, TypeAlias

import typer

from bridge.base.errors import ManyFaultsError, SettingError, UserError
from bridge.harp.settings import AUTO
from bridge.wiring.layers import ON_COMMAND_LINE
from bridge.wiring.log_file import LOG, differing
from bridge.wiring.settings import Settings, load_settings

Harp: TypeAlias = Annotated[
    str | None, typer.Option("--harp", metavar="KEY", help="Key of the harp, such as C, Bb, low-F or high-G.")
]
AnyHarp: TypeAlias = Annotated[
    str | None,
    typer.Option("--harp", metavar="KEY|auto", help="Key of the harp; auto finds key, position and A4."),
]
HarpFile: TypeAlias = Annotated[
    str | None,
    typer.Option(
        "--harp-file", metavar="FILE", help="Your own harp as measured: its key, A4, reeds and breath, a .yaml file."
    ),
]
Position: TypeAlias = Annotated[
    str | None, typer.Option("--position", metavar="POSITION", help="Position, 1 to 12 or a name such as cross.")
]
Scale: TypeAlias = Annotated[
    str | None,
    typer.Option(
        "--scale", metavar="SCALE", help="Scale: blues, major, mixolydian, minor-pentatonic, chromatic or your own."
    ),
]
A4: TypeAlias = Annotated[
    str | None, typer.Option("--a4", metavar="HZ", help="Pitch of A4 on your harp in Hz; many are tuned to 442 to 444.")
]
Tune: TypeAlias = Annotated[
    str | None,
    typer.Option("--tune", metavar="auto", help="Where nothing is known of A4: find it from the straight notes."),
]
FollowerName: TypeAlias = Annotated[
    str | None,
    typer.Option(
        "--follower", metavar="own|aubio", help="Pitch follower: our own, or aubio's, which follows talk as well."
    ),
]
Follow: TypeAlias = Annotated[
    str | None,
    typer.Option("--follow", metavar="harp|any", help="What counts: harp, or any voice and instrument as well."),
]
Preset: TypeAlias = Annotated[
    str | None,
    typer.Option(
        "--preset",
        metavar="NAME|FILE",
        help="Preset, such as stage, classroom, recording, driven or mpe; or your own YAML file.",
    ),
]
Sets: TypeAlias = Annotated[
    list[str] | None,
    typer.Option("--set", metavar="KEY=VALUE", help="Any setting, for example harp.a4_hz=442; may be repeated."),
]
TempoWish: TypeAlias = Annotated[
    str | None,
    typer.Option("--tempo", metavar="N|auto", help="Quarters a minute, for the score; auto estimates it, if it can."),
]
BarOne: TypeAlias = Annotated[
    float | None,
    typer.Option("--bar-1", metavar="S", help="Where bar 1 begins, in seconds of the take; else at the first note."),
]
MidiPortName: TypeAlias = Annotated[
    str | None, typer.Option("--midi", metavar="PORT|virtual|none", help="MIDI port, or part of its name.")
]
OscAddress: TypeAlias = Annotated[
    str | None, typer.Option("--osc", metavar="HOST:PORT|none", help="Where OSC messages go.")
]


def settings_from(
    preset: str | None,
    sets: list[str] | None,
    granted: Mapping[str, object] | None = None,
    *,
    any_harp: bool = False,
    **given: str | float | bool | None,
) -> Settings:
    """The settings that these options make; ``given`` are the options named in ``_KEYS``, None when not given.

    ``granted`` is what the command takes for granted where the user says nothing; ``any_harp`` says that the command
    can do without knowing the harp. Raises UserError for what cannot be used.
    """
    flags = {_KEYS[name]: value for name, value in given.items()}
    try:
        settings = load_settings(preset, sets or [], flags, granted)
    except ManyFaultsError as error:
        raise ManyFaultsError([_as_typed(fault) for fault in error.errors]) from error
    except SettingError as error:
        raise _as_typed(error) from error
    if settings.harp.key == AUTO and not any_harp:
        raise UserError("Only play and transcribe find the harp themselves (--harp auto): name its key here.")
    if given.get("bar_1") is not None and settings.takes.tempo is None:
        raise UserError("--bar-1 has no effect where no tempo is known. Give --tempo N or --tempo auto as well.")
    LOG.info("settings that differ: %s", ", ".join(differing(settings, Settings())) or "none")
    return settings


def _as_typed(fault: UserError) -> UserError:
    """A fault in a setting that came from an option, by the name of the option that was typed."""
    if not isinstance(fault, SettingError) or fault.where != ON_COMMAND_LINE:
        return fault
    names = [name for name, key in _KEYS.items() if key == fault.key]
    if not names:
        return fault
    option = _OPTIONS.get(names[0], f"--{names[0].replace('_', '-')}")
    # An option that is to mean nothing is left out, and not given as null.
    allowed = re.sub(r" or nothing \(null\)|; null = [^;)]*", "", fault.allowed)
    return UserError(f"{option}: found {fault.found!r}, allowed: {allowed}")


#: Those that are not called as their word here.
_OPTIONS = {"sound": "--input", "web_port": "--port"}
_KEYS = {
    "harp": "harp.key",
    "harp_file": "harp.file",
    "harps": "harp.harps",
    "position": "harp.position",
    "scale": "quantise.scale",
    "a4": "harp.a4_hz",
    "tune": "harp.tune",
    "follower": "follow.follower",
    "follow": "quantise.talk.follow",
    "tempo": "takes.tempo",
    "bar_1": "takes.bar_1_s",
    "sound": "capture.input",
    "paced": "capture.paced",
    "midi": "send.midi.port",
    "osc": "send.osc.to",
    "footswitch": "send.arm.port",
    "harp_pedal": "send.harp.port",
    "web_port": "web.port",
}


def folder_for_takes(folder: Path) -> Path:
    """``folder``, made when missing. Raises UserError when it is a file or cannot be made."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (FileExistsError, NotADirectoryError) as error:
        raise UserError(f"{_file_in_the_way(folder)} is a file, not a folder. Choose another folder.") from error
    except OSError as error:
        raise UserError(f"{folder} cannot hold takes ({error.strerror}). Choose another folder.") from error
    return folder


def _file_in_the_way(folder: Path) -> Path:
    """What keeps ``folder`` from being one: itself, or the first of those it lies in that is no folder."""
    return next((part for part in reversed([folder, *folder.parents]) if part.exists() and not part.is_dir()), folder)


def counted(notes: int) -> str:
    """``notes`` in words that fit their number."""
    return f"{notes} note" if notes == 1 else f"{notes} notes"
