"""What is wrong in the tables of a take, gathered so that all of it can be told at once."""

from __future__ import annotations

from collections import Counter, defaultdict
from operator import itemgetter
from pathlib import Path

from bridge.base.errors import ManyFaultsError, UserError

#: So many rows with the same fault in one column are told one by one, the others by their number.
_TOLD_SINGLY = 20


class Faults:
    """Collects what is wrong, file by file; :meth:`check` raises all of it in the order of the lines."""

    def __init__(self) -> None:
        self._errors: dict[Path, list[tuple[int, UserError]]] = defaultdict(list)
        self._alike: Counter[tuple[Path, str, str]] = Counter()

    def add(self, path: Path, line: int, column: str, found: object, allowed: str) -> None:
        """In ``line`` (from 1) of ``path`` the ``column`` holds ``found`` where only ``allowed`` can be used."""
        self._alike[path, column, allowed] += 1
        if self._alike[path, column, allowed] <= _TOLD_SINGLY:
            self.say(path, line, f"{column}: found {found!r}, allowed: {allowed}")

    def say(self, path: Path, line: int | None, text: str) -> None:
        """A fault in words that say what to do; ``line`` is None where it is one of the file as a whole."""
        where = f"{path}: " if line is None else f"{path}:{line}: "
        self._errors[path].append((line or 0, UserError(where + text)))

    def __bool__(self) -> bool:
        return bool(self._errors)

    def check(self) -> None:
        """Raise UserError for one fault and ManyFaultsError for several; nothing where there is none."""
        for (path, column, allowed), count in self._alike.items():
            if count > _TOLD_SINGLY:
                self.say(path, None, f"{column}: {count - _TOLD_SINGLY} more rows, allowed: {allowed}")
        errors = [error for told in self._errors.values() for _, error in sorted(told, key=itemgetter(0))]
        if errors:
            raise errors[0] if len(errors) == 1 else ManyFaultsError(errors)
