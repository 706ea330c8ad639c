"""What is wrong in the tables of a take, gathered so that all of it can be told at once."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from bridge.base.errors import ManyFaultsError, UserError

#: So many rows with the same fault in one column are told one by one, the others by their number.
_TOLD_SINGLY = 20


class Faults:
    """Collects faults in the order to tell them; :meth:`check` raises what there is."""

    def __init__(self) -> None:
        self._errors: list[UserError] = []
        self._alike: Counter[tuple[Path, str, str]] = Counter()

    def add(self, path: Path, line: int, column: str, found: object, allowed: str) -> None:
        """In ``line`` (from 1) of ``path`` the ``column`` holds ``found`` where only ``allowed`` can be used."""
        self._alike[path, column, allowed] += 1
        if self._alike[path, column, allowed] <= _TOLD_SINGLY:
            self._errors.append(UserError(f"{path}:{line}: {column}: found {found!r}, allowed: {allowed}"))

    def say(self, text: str) -> None:
        """A fault of a file as a whole, as one sentence that names the file and says what to do."""
        self._errors.append(UserError(text))

    def __bool__(self) -> bool:
        return bool(self._errors)

    def check(self) -> None:
        """Raise UserError for one fault and ManyFaultsError for several; nothing where there is none."""
        more = [
            UserError(f"{path}: {column}: {count - _TOLD_SINGLY} more rows, allowed: {allowed}")
            for (path, column, allowed), count in self._alike.items()
            if count > _TOLD_SINGLY
        ]
        errors = [*self._errors, *more]
        if errors:
            raise errors[0] if len(errors) == 1 else ManyFaultsError(errors)
