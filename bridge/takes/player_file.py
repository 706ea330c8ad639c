"""What a player has practised, kept in a plain file of JSON lines: one line for each time through an exercise.

Lines are only ever appended, each by one write, so that nothing that was kept is lost. A last line that was torn off
when the machine stopped is passed over, and the next one begins on a line of its own.
"""

from __future__ import annotations

import json
import math
import os
import sys
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from bridge.base.errors import UserError
from bridge.base.printable import printable
from bridge.study.attempt import Attempt

FORMAT = 1
#: What a name may have besides letters, digits and the marks that some scripts write on their letters.
_BETWEEN = " .-_"
_MOST_LETTERS = 40


@dataclass(frozen=True, slots=True)
class Kept:
    """One line that progress is told from: when (ISO 8601, local time), exercise, beats a minute and cents off."""

    at: str
    exercise: str
    tempo: float | None
    off_cents: float
    fault: str | None


def player_path(player: str, environment: Mapping[str, str] = os.environ, system: str = sys.platform) -> Path:
    """The file of ``player`` in the user's data folder: $XDG_DATA_HOME, else ~/.local/share; on macOS its own.

    A file that is there already is found whichever way its name puts accents together: one that was copied from another
    system may have them apart.

    Source: XDG Base Directory Specification; Apple's File System Programming Guide. Raises UserError for a name that
    no file should have.
    """
    # One name, whichever way a keyboard or a file system puts its accents together (Unicode Annex 15), and no second
    # one for a blank at its end that nobody sees.
    name = unicodedata.normalize("NFC", player).strip(" ")
    if not _is_name(name):
        raise UserError(
            f"Player {player!r}: a name has up to {_MOST_LETTERS} letters, digits, blanks, dots, - and _, a letter or "
            "digit first."
        )
    chosen = environment.get("XDG_DATA_HOME", "")
    if chosen.startswith("/"):
        folder = Path(chosen)
    elif system == "darwin":
        folder = Path.home() / "Library" / "Application Support"
    else:
        folder = Path.home() / ".local" / "share"
    path = folder / "reedwire" / "drill" / f"{name}.jsonl"
    found = [other for other in _files_beside(path) if _player_of(other) == name]
    return found[0] if found and path not in found else path


def require_player(player: str, environment: Mapping[str, str] = os.environ, system: str = sys.platform) -> None:
    """Raises UserError, with the names that are known, where nothing is kept of ``player`` but of others."""
    path = player_path(player, environment, system)
    known = sorted(map(_player_of, _files_beside(path)))
    if known and _player_of(path) not in known:
        raise UserError(f"There is no player {player!r} yet; known: {', '.join(known)}.")


def _files_beside(path: Path) -> Iterator[Path]:
    """The files of all players; none where there is no folder yet, or one that cannot be looked into."""
    return path.parent.glob("*.jsonl")


def _player_of(path: Path) -> str:
    """Whose file it is, with accents put together (NFC)."""
    return unicodedata.normalize("NFC", path.stem)


def _is_name(name: str) -> bool:
    """Whether a file may have this name: it begins with a letter or digit, and leads nowhere else."""
    fit = all(letter.isalnum() or letter in _BETWEEN or unicodedata.category(letter)[0] == "M" for letter in name)
    return fit and len(name) <= _MOST_LETTERS and (name[:1].isalnum() or name[:1] == "_")


def read_kept(path: Path) -> tuple[list[Kept], int]:
    """All that is kept in the file, in order, and how many lines could not be read; nothing where there is no file.

    Raises UserError for one that is no plain file or cannot be read, or that a newer program has written.
    """
    try:
        # A pipe keeps whoever reads it waiting, and a device may have no end.
        if path.exists() and not (path.is_file() or path.is_dir()):
            raise UserError(f"{printable(path)} is no plain file. Choose another with --out.")
        lines = path.read_bytes().decode("utf-8", "replace").split("\n")
    except FileNotFoundError:
        return [], 0
    except OSError as error:
        raise UserError(f"{path} cannot be read ({error.strerror}). Choose another with --out.") from error
    kept, torn = [], 0
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        found = _kept(line, f"{path}, line {number}")
        if found is None:
            torn += 1
        else:
            kept.append(found)
    return kept, torn


def unread_words(path: Path, torn: int) -> str:
    """What to tell of so many lines that could not be read; nothing of none."""
    lines = f"{torn} {'line' if torn == 1 else 'lines'}"
    return f"{lines} of {printable(path)} could not be read; they stay as they are." if torn else ""


def off_cents_of(kept: Sequence[Kept], exercise: str) -> list[float]:
    """How far off the exercise of that name was each time, cents, the oldest first."""
    return [each.off_cents for each in kept if each.exercise == exercise]


def keep(path: Path, attempt: Attempt, at: str, harp: str) -> None:
    """Append one time through. Raises UserError where nothing can be written; what is there stays as it is."""
    beat = attempt.beat
    record = {
        "format": FORMAT,
        "at": at,
        "exercise": attempt.exercise.name,
        "tempo": None if beat is None else round(60.0 / beat.period_s, 2),
        "harp": harp,
        "off_cents": round(attempt.advice.off_cents, 2),
        "fault": attempt.advice.fault,
        "advice": attempt.advice.sentence,
        "notes": [None if note is None else _rounded(asdict(note)) for note in attempt.notes],
    }
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        file = os.open(path, os.O_RDWR | os.O_APPEND | os.O_CREAT, 0o666)
        try:
            size = os.fstat(file).st_size
            torn = size > 0 and os.pread(file, 1, size - 1) != b"\n"
            data = b"\n" * torn + json.dumps(record, ensure_ascii=False).encode() + b"\n"
            while data:
                data = data[os.write(file, data) :]
            os.fsync(file)
        finally:
            os.close(file)
    except OSError as error:
        raise UserError(
            f"{printable(path)} cannot be written ({error.strerror}). Make room for it, or mend who may write there; "
            "reedwire drill takes another file with --out."
        ) from error


def _kept(line: str, where: str) -> Kept | None:
    """What one line keeps; None for a line that is torn or none of ours."""
    try:
        record = json.loads(line)
        if record["format"] > FORMAT:
            raise UserError(
                f"{where}: format {record['format']} of a newer reedwire, and {FORMAT} is the newest known here. "
                "Update reedwire, or choose another file with --out."
            )
        tempo = None if record["tempo"] is None else float(record["tempo"])
        off_cents = float(record["off_cents"])
        # NaN is none: a plot of it would be none either, and no page reads it.
        if not math.isfinite(off_cents):
            return None
        return Kept(str(record["at"]), str(record["exercise"]), tempo, off_cents, record.get("fault"))
    except (ValueError, KeyError, TypeError):
        return None


def _rounded(value: Any) -> Any:  # noqa: ANN401 -- plain data of any shape
    """The same plain data with numbers as fine as they can be heard."""
    if isinstance(value, float):
        return round(value, 4)
    if isinstance(value, dict):
        return {name: _rounded(inner) for name, inner in value.items()}
    return value
